"""What a contributor keeps beside studies: a photo, a rig and its calibration, for the pages that show them."""

from __future__ import annotations

from results.intake.calibrate import calibration_of, pairs_in, read_calibration
from results.intake.rigs import read_rig
from results.models import Rig, Study
from results.photos.keep import Sent, add
from results.photos.remake import remake
from tests.results.photos.pictures import photo

ARM = {"setup": "Bench arm", "loading": "cantilever_arm", "instrument": "luggage_scale", "arm": "300 mm"}
POINTS = "0, 0.1\n10, 9.9\n20, 19.6\n30, 29.5\n10, 10\n0, 0"


def add_own_things(study: Study) -> dict[str, object]:
    """A photo of the study and a calibrated rig of its contributor's, by their numbers."""
    series = study.series.first()
    add(study, study.contributor, [Sent(remake(photo(), 12), "Tenon broken off at the shoulder", series)])
    rig = read_rig(ARM).fill(Rig(user=study.contributor))
    rig.save()
    study.setups.filter(loading="cantilever_arm").update(rig=rig)
    read = read_calibration(rig, pairs_in(POINTS, "pasted"), hung_unit="kg", read_unit="kg", made_on="2025-03-14")
    made = calibration_of(rig, read, unit="kg", weights_from="weighed at the mill", within="1 %")
    made.save()
    return {"photo": study.photos.get().pk, "rig": rig.pk, "calibration": made.pk}
