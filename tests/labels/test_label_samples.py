"""The command that writes a PDF of every design."""

from io import StringIO
from pathlib import Path

from django.core.management import call_command

from labels.registry import DESIGNS
from labels.samples import SAMPLES


def test_writes_every_design_on_every_stock(tmp_path: Path) -> None:
    out = StringIO()
    call_command("label_samples", str(tmp_path / "new" / "folder"), stdout=out)
    files = sorted(path.name for path in (tmp_path / "new" / "folder").iterdir())
    wanted = sorted(
        f"{design}-{name}-{stock}.pdf"
        for design, samples in SAMPLES.items()
        for name in samples
        for stock in DESIGNS[design].stocks
    )
    assert files == wanted
    assert f"{len(wanted)} files written" in out.getvalue()
    assert all((tmp_path / "new" / "folder" / name).read_bytes().startswith(b"%PDF-") for name in files)
