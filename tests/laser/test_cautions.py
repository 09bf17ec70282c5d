import pytest

from nesting.laser.cautions import CAUTIONS


@pytest.mark.parametrize(
    "words",
    [
        "vegetable-tanned", "hexavalent chromium", "hydrogen chloride", "Extract the smoke", "Never leave",
        "extinguisher", "IEC 60825-1", "manual", "Local rules", "maker",
    ],
)  # fmt: skip
def test_the_cautions_speak_of(words):
    assert any(words in caution for caution in CAUTIONS)
