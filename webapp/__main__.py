import sys

from webapp.cli import main

sys.exit(main())
