"""Which rig to carry: what it reaches, what a loss costs, which units to choose. Pure: values in, values out."""

__all__: list[str] = []
