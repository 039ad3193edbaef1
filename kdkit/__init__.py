"""kdkit: assembly instructions and hardware schedules for knockdown furniture."""
