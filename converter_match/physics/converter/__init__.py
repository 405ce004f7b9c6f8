"""Inside the converter: blading, stator, velocity triangles."""
