"""The stand's pages and their API: a thin face over a running gig.

Imported by what serves them alone, since it is slow. The only room with FastAPI, Starlette, uvicorn, Jinja2 and segno.
"""

__all__: list[str] = []
