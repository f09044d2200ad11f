"""What a player asks for, one function each: open the library, call the pure part, commit once, return values.

Nothing here prints. Each module is imported only by the command that needs it: the rooms below cost start-up time.
"""

__all__: list[str] = []
