"""What a workshop without a machine needs: templates at true size, settings, stops, sheets."""
