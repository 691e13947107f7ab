"""The operator's page at the grinder: verdict, next step, size, passes, places, slope."""
