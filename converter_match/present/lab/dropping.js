// A place to drop files on. Each is read here and handed over by name and content (base64).

const LARGEST = 30000000;

function render({ model, el }) {
  const zone = document.createElement("div");
  zone.setAttribute("role", "region");
  zone.setAttribute("aria-label", "Drop files here");
  zone.style.cssText = "border:2px dashed #5b6b7b;border-radius:6px;padding:0.9em;text-align:center";
  const words = document.createElement("span");
  words.setAttribute("role", "status");
  words.setAttribute("aria-live", "polite");
  words.textContent = model.get("words");
  zone.appendChild(words);
  el.appendChild(zone);

  async function take(files) {
    const found = [];
    for (const file of files) {
      if (file.size > LARGEST) {
        found.push({ name: file.name, content: "", size: file.size });
        continue;
      }
      const bytes = new Uint8Array(await file.arrayBuffer());
      let text = "";
      for (let at = 0; at < bytes.length; at += 32768) {
        text += String.fromCharCode(...bytes.subarray(at, at + 32768));
      }
      found.push({ name: file.name, content: btoa(text), size: file.size });
    }
    if (found.length) {
      model.set("files", found);
      model.save_changes();
      words.textContent = `handed over: ${found.map((file) => file.name).join(", ")}`;
    }
  }

  zone.addEventListener("dragover", (event) => {
    event.preventDefault();
    zone.style.background = "#e8eef4";
  });
  zone.addEventListener("dragleave", () => (zone.style.background = ""));
  zone.addEventListener("drop", (event) => {
    event.preventDefault();
    event.stopPropagation();
    zone.style.background = "";
    take([...event.dataTransfer.files]);
  });
}

export default { render };
