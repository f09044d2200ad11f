"""Running a gig: the position, what is sent and when, what comes in, and how it all comes back after a fault.

Nothing here opens a port or a file or knows of pages: ports, clock and journal are passed in.
"""

__all__: list[str] = []
