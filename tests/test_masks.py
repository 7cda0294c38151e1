"""A mask for each photo, whatever the photos are called."""

from pathlib import Path

from shelf_photos import FEW, run


def test_photos_whose_names_are_nearly_alike_keep_a_mask_each(shelf: Path):
    for name, alike in zip(FEW[7:], ("x.jpg", "X.jpeg", "x.jpeg.png", "x.png"), strict=True):
        (shelf / name).rename(shelf / alike)
    out = run(shelf, masks=True).out
    masks = [path.name.casefold() for path in (out / "masks").iterdir()]
    assert len(masks) == len(FEW)
    assert len(set(masks)) == len(masks)
