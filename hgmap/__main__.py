"""``python -m hgmap``."""

from hgmap.cli.app import main

if __name__ == "__main__":
    main()
