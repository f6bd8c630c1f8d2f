"""From hourly weather to turf disease pressure, honest chances, and preventive application windows."""

__all__ = ["__version__"]

__version__ = "0.1.0"
