"""The invented library that comes with the tool."""
