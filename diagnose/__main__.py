"""``python -m diagnose``."""

from diagnose.cli import main

raise SystemExit(main())
