"""What a build writes: manual, tables, plan and figures, in one folder and in one go."""
