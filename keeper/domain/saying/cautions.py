"""What every buyer is told, whatever the animal, each with its source.

What holds for a species alone, as the appendix of CITES that it stands in, is said by the species.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Caution:
    """A plain sentence and who says so."""

    text: str
    source: str


GENERAL = (
    Caution(
        "Reptiles can carry Salmonella without being ill. Wash your hands after touching the "
        "animal or its things; keep it away from food, and take particular care with small "
        "children and anyone whose immune system is weak.",
        "public health advice, for example of the Centers for Disease Control and Prevention "
        "(Healthy Pets: reptiles and amphibians)",
    ),
    Caution(
        "Keeping, breeding, selling and moving animals may need permits. Local, national and "
        "international rules differ: check them.",
        "",
    ),
    Caution(
        "This sheet speaks of genes only and is no veterinarian's word. Signs of ill health "
        "belong before a qualified veterinarian.",
        "",
    ),
)
