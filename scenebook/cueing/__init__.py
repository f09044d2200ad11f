"""From targets to cues: the path, the order, the times, hands and feet, the timeline. Pure."""

__all__: list[str] = []
