"""``python -m hgmap``."""

from hgmap.cli import main

if __name__ == "__main__":
    main()
