"""The session: what a person types in Python, each name one thing to do.

Here is the door: parts are checked, names of surfaces, routes and cycles looked up, quantities that
are written with their unit turned into SI. Everything beyond it is handed components and SI numbers
and opens no file. `converter_match` lists these names, and finds each on first use.

``files`` reads and writes, ``match`` puts engine and converter together, ``wheels`` takes a match
to the road, ``stall`` tests it, ``studies`` judges candidates, ``data`` makes components of sheets
and logs, ``notebook`` shows all of it, ``figures`` draws it; ``door`` is what they share.
"""

from converter_match.api import figures as figures
