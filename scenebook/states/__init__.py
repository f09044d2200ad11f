"""From a scene and a rig to a target: home, presets, leave, stand-ins, loops, and what lacks. Pure."""

__all__: list[str] = []
