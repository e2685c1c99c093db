"""``python -m geo_site`` and the ``geo-site`` command."""

from geo_site.cli import main

__all__ = ["main"]

if __name__ == "__main__":
    main()
