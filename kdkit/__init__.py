"""kdkit: assembly instructions and hardware schedules for knockdown furniture."""

__version__ = "0.1.0"
