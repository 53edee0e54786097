"""How fast and how light, each number beside a peer or a limit measured in the same run."""
