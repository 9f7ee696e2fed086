"""What the layers of a drawing are for, told by their names or by whoever asks for the drawing.

Names are read by the words of the trade in several languages, and by two published conventions:
the layer names of the US National CAD Standard (AIA CAD Layer Guidelines: discipline, major group,
minor groups, status, as ``A-WALL-FULL-N``), and ISO 13567-2 (agent responsible, 2 characters;
element, 6; presentation, 2, where T is text, H hatching, D dimensions, G grid). The word lists, the
meaning of the codes and the CI/SfB elements 21, 22, 31 and 32 are from memory.
"""

from __future__ import annotations

import fnmatch
import functools
import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final, Literal, get_args

from hgmap.errors import PlanError
from hgmap.site.importers.drawing import Role

LayerRole = Role | Literal["ignore"]
ROLES: Final[tuple[str, ...]] = (*get_args(Role), "ignore")
MANY: Final = 12
"""So many layers are listed in a message."""

_IGNORED: Final[Mapping[str, str]] = {
    "furniture": "furn* mobel* moebel* mobil* meuble* mobili arred* mueble* movel moveis equip* "
    "eqpm fixture* plfx sanit* bath* kitchen* kuche* kueche* cucin* cocina* cozinha* appliance*",
    "dimensions": "dim dims dimension* *bemassung masse mass cote cotes cotation* quote "
    "quotat* cota cotas maat maten",
    "hatching": "hatch* patt pattern* *schraff* hachur* retin* trattegg* sombread* fill fills "
    "arcering* poche",
    "grid": "grid grids axis axes achse* achs raster gitter assi eje ejes eixo eixos cntr",
    "ceiling or roof": "clng ceil* decke decken plafond* soffitt* techo* teto* roof* dach* toit* "
    "tett* ovhd overhead rcp",
    "stairs": "stair* strs trepp* escalier* scala escaler* escad* trap trappen trapp*",
    "symbols and sheets": "symb* title* titl ttlb border* viewport* vport* vp defpoints legend* "
    "north revision* revc logo* sheet* plot* schnitt* sect section* elev elevation* detail* detl",
    "services": "elec* elek* light lights lighting lite hvac mech* duct* pipe* heiz* luft* sprink* "
    "powr power plumb* alarm*",
    "site": "tree* plant plants plnt veg* pkng parking* road* topo* landscap* car cars",
    "demolition": "demo demol* abbruch* abriss* derrib*",
    "partial height": "prht",
    "header": "head",
}
_TEXT: Final = (
    "text* *text txt *txt *texte testo testi texto* name* *name *names *namen nom noms nombre* "
    "nome* nomi label* *label *labels tag *tag tags *tags iden ident* *beschrift* *nummer* "
    "*nummern number* *numbers *stempel *bezeichnung* *schrift etiquet* rotul* annotation*"
)
_WORDS: Final[tuple[tuple[Role, str], ...]] = (
    ("door", "door* *door *doors tur *tur *turen turnummer* tuer* *tuer *tueren ture porte "
             "portes porta portas puerta* deur* *deur *deuren dorr* *dorr *dorrar drzwi "
             "opening* *offnung* *oeffnung* durchgang* passage* passag* gap gaps"),
    ("window", "window* *window *windows fenster* *fenster fenetre* finestr* ventana* "
               "janela* raam ramen fonster* *fonster okno okna glaz* glass *glas verglas* "
               "vitrage* vitr* vetrat*"),
    ("wall", "wall* *wall *walls wand *wand waende *waende wande *wande mur murs mauer* *mauer "
             "*mauern mauerwerk* muro muros muri pared paredes parede* paroi parois parete pareti "
             "muur* *muur muren *muren vagg* *vagg *vaggar scian* partition* cloison* "
             "tramezz* tabique* column* cols col pillar* stutze* stuetze* saule saulen saeule* "
             "poteau* pilast* pilar* obstacle* hindernis*"),
    ("walkable", "walkable* walk begehbar*"),
    ("outline", "outline* otln contour* umriss* footprint* perimet* facade*"),
    ("room", "room* *room *rooms raum* *raum raume *raume raeume *raeume space spaces area areas "
             "zimmer* flache *flache *flachen flaeche *flaeche *flaechen piece pieces local locaux "
             "salle salles stanza stanze locale locali vano vani habitacion* recinto* estancia* "
             "sala salas comodo* ambiente* ruimte* rum pokoj* pomieszcz*"),
)  # fmt: skip
_NOT_MEANT: Final = frozenset({"indoor", "indoors", "outdoor", "outdoors", "traum", "agitur"})
_NCS: Final = re.compile(
    r"(?P<discipline>[A-Z][A-Z-]?)-[A-Z]{4}(-[A-Z0-9]{4}){0,2}(-(?P<status>[A-Z0-9]))?"
)
_OF_BUILDINGS: Final = frozenset("AISGQ")
"""NCS disciplines whose walls count: architecture, interiors, structure, general, equipment."""
_GONE: Final = {"D": "to be demolished", "F": "future work"}
_ISO: Final = re.compile(
    r"[A-Z][A-Z0-9-](?P<element>[A-Z0-9-]{6})(?P<shows>[ETHDJKGUBVM-])[A-Z0-9-][A-Z0-9-]*"
)
_ISO_SHOWS: Final = {"H": "hatching", "D": "dimensions", "G": "grid", "B": "symbols and sheets",
                     "J": "symbols and sheets", "K": "symbols and sheets",
                     "U": "construction lines"}  # fmt: skip
_ISO_ELEMENTS: Final[Mapping[str, Role]] = {
    "21": "wall", "22": "wall", "31": "window", "32": "door",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Layer:
    """What a layer is for.

    Attributes
    ----------
    role : str or None
        A role of :class:`~hgmap.site.importers.drawing.Part`, ``"ignore"``, or None where the
        name says nothing.
    why : str
        For an ignored layer what it shows; ``"as said"`` where a person has named the layer.
    """

    role: LayerRole | None
    why: str = ""


def layer_by_name(name: str) -> Layer:
    """Tell what a layer is for by its name.

    Examples
    --------
    >>> layer_by_name("A-WALL-FULL").role, layer_by_name("Innentüren").role
    ('wall', 'door')
    >>> layer_by_name("A-AREA-IDEN").role, layer_by_name("A-WALL-DIMS")
    ('text', Layer(role='ignore', why='dimensions'))
    >>> layer_by_name("0").role is None
    True
    """
    plain = re.split(r"\$\d+\$|\|", name)[-1]  # a bound or attached drawing stands before it
    ncs = _NCS.fullmatch(plain.upper())
    if ncs and ncs["discipline"][0] not in _OF_BUILDINGS:
        return Layer("ignore", "of another discipline")
    if ncs and ncs["status"] in _GONE:
        return Layer("ignore", _GONE[ncs["status"]])
    iso = None if ncs else _ISO.fullmatch(plain.upper())
    if iso and any(c.isdigit() for c in iso["element"]):
        if iso["shows"] in _ISO_SHOWS:
            return Layer("ignore", _ISO_SHOWS[iso["shows"]])
        role = _ISO_ELEMENTS.get(iso["element"].strip("-")[:2])
        if role and iso["shows"] in "E-M":
            return Layer(role)
    words = _words_of(plain)
    for why, patterns in _IGNORED.items():
        if _any(words, patterns):
            return Layer("ignore", why)
    role = next((role for role, patterns in _WORDS if _any(words, patterns)), None)
    if _any(words, _TEXT):
        return Layer("ignore", f"{role} labels") if role in ("door", "window") else Layer("text")
    if role is None and ncs and "FLOR" in plain.upper():
        return Layer("ignore", "floor finishes")
    return Layer(role)


def layers_as_said(names: Iterable[str], said: Mapping[str, str], *, file: str) -> dict[str, Layer]:
    """Return what each layer is for; what a person says outweighs the names.

    Parameters
    ----------
    names : iterable of str
        Layers of the drawing.
    said : mapping
        Role to patterns of layer names, with ``;`` between them (``*`` and ``?`` as in file names,
        capitals not told apart). A role said is not guessed for any other layer.

    Raises
    ------
    PlanError
        If a role is not known, fits no layer, or two roles claim a layer.
    """
    names = list(names)
    found: dict[str, Layer] = {}
    roles: dict[str, LayerRole] = {}
    for role, patterns in said.items():
        if role not in ROLES:
            raise PlanError(
                f"{role!r} is nothing that a layer can be for",
                where="--layers",
                todo=f"say one of {', '.join(ROLES)}",
            )
        kept = [one.strip() for one in patterns.split(";") if one.strip()]
        fitting = [
            name for name in names
            if any(fnmatch.fnmatchcase(name.casefold(), one.casefold()) for one in kept)
        ]  # fmt: skip
        if not fitting:
            raise PlanError(
                f"no layer of {file} is called {patterns!r}",
                where="--layers",
                todo=f"its layers are {few(names)}",
            )
        for name in fitting:
            if roles.get(name, role) != role:
                raise PlanError(
                    f"layer {name!r} is said to be {roles[name]} and {role}",
                    where="--layers",
                    todo="say one role for each layer",
                )
            roles[name] = as_role(role)
            found[name] = Layer(roles[name], "as said")
    for name in names:
        if name not in found:
            guess = layer_by_name(name)
            taken = guess.role in said and guess.role != "ignore"
            found[name] = Layer(None) if taken else guess
    return found


def as_role(text: str) -> LayerRole:
    """Return a role that is known to be one, for the type checker."""
    for role in get_args(Role):
        if role == text:
            known: LayerRole = role
            return known
    return "ignore"


def few(names: Iterable[str], most: int = MANY) -> str:
    """List a few names.

    Examples
    --------
    >>> few(["a", "b", "c"], 2)
    'a, b and 1 more'
    """
    listed = list(names)
    more = len(listed) - most
    return ", ".join(listed[:most]) + (f" and {more} more" if more > 0 else "")


def _words_of(name: str) -> list[str]:
    """Split a name into words without accents: ``"01_RoomNames"`` has ``room`` and ``names``."""
    spaced = re.sub(r"(?<=[a-zß-ÿ])(?=[A-ZÀ-Þ])", " ", name)
    apart = unicodedata.normalize("NFKD", spaced.casefold().replace("ł", "l"))
    plain = "".join(c for c in apart if not unicodedata.combining(c))
    words = [word for word in re.split(r"[\W\d_]+", plain) if word]
    return [word for word in words if word not in _NOT_MEANT]


def _any(words: list[str], patterns: str) -> bool:
    pattern = _compiled(patterns)
    return any(pattern.fullmatch(word) for word in words)


@functools.cache
def _compiled(patterns: str) -> re.Pattern[str]:
    return re.compile("|".join(one.replace("*", r"\w*") for one in patterns.split()))
