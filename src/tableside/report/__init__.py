"""The letter, the structured report and study.json, side by side."""
