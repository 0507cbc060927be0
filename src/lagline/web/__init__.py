"""Server-rendered pages over the desk."""
