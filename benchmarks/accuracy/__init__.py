"""How well tracings are read: every number against a truth, on seeds kept for reporting."""
