"""Draw the pictures of the documents anew: ``python docs/make_pictures.py``."""

from pathlib import Path

from geo_site import propose, read_site
from geo_site.sheets.picture import write_picture

HERE = Path(__file__).parent


def main() -> None:
    """Draw one picture for each sample."""
    (HERE / "pictures").mkdir(exist_ok=True)
    for name in ("hillside", "lidar"):
        plan = propose(read_site(HERE.parent / "sample_data" / name / "site.toml"))
        write_picture(plan, HERE / "pictures" / f"{name}.png")


if __name__ == "__main__":
    main()
