"""Temperature-hold controller and logger for a baker's scald held near 65 °C."""

__version__ = "0.1.0"
