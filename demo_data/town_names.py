"""Invented street names for the demo town, each used once."""

from __future__ import annotations

from random import Random


def words(text: str) -> list[str]:
    """The words between the commas of a text."""
    return [word.strip() for word in text.replace("\n", " ").split(",")]


_ROADS = words("""
Pruitt, Hollis Chapel, Sutter, Plank, Barlow, Quarry Hill, Meeker, Lindqvist, Ogle,
Harmon Church, Stillwell, Crabtree, Dunmore, Vance, Pottery, Kettering, Ashbaugh,
Windrow, Tolliver, Fairgrounds""")
_LANES = words("""
Heron Landing, Wagner, Sawyer, Peach Tree, Hayloft, Milk House, Coulter, Gravel Pit,
Bittersweet, Brickyard, Corn Crib, Old Landing, Sheep Run, Fence Row, Limekiln, Turkey
Foot, Stone Barn""")
_ROW_NAMES = words("""
Walnut, Locust, Chestnut, Sycamore, Spruce, Linden, Hawthorn, Mulberry, Catalpa, Larch,
Poplar, Butternut, Buckeye, Hickory, Juniper, Elm, Cherry, Basswood""")
_COLUMN_NAMES = words("""
Jefferson, Franklin, Monroe, Prospect, Church, Canal, Foundry, Depot, Union, Liberty,
Clay, Perry, Wayne, Harrison, Mill, Grant, Webster, Whitney, Academy""")
_THEMES = {
    "bird": words("""
Meadowlark, Bobolink, Kingfisher, Goldfinch, Towhee, Nuthatch, Waxwing, Tanager,
Killdeer, Phoebe, Vireo, Bluebird, Flicker, Sandpiper, Oriole, Grosbeak, Whippoorwill,
Catbird, Chickadee, Snowbird, Plover, Starling, Osprey, Harrier, Merlin, Linnet, Siskin,
Crossbill, Lapwing, Thrasher, Martin, Nighthawk, Dunlin, Swift, Wren, Bunting, Pipit,
Rail, Warbler"""),
    "wood": words("""
Foxglove, Trillium, Ironwood, Dogwood, Bloodroot, Serviceberry, Fernwood, Ginseng,
Hazel, Pawpaw, Larkspur, Mayapple, Sassafras, Witchhazel, Columbine, Spicebush, Boxwood,
Bellflower, Hemlock, Bramble, Sumac, Elder, Partridgeberry, Lobelia, Hepatica, Sweetgum,
Tupelo, Sourwood, Goldenrod, Aster, Wild Ginger, Bluebell, Cohosh, Wintergreen, Chicory,
Teasel, Yarrow"""),
    "hill": words("""
Overlook, Summit, Granite, Highpoint, Terrace, Belvedere, Hillcrest, Longview,
Stonegate, Crestline, Lookout, Skyline, Flagstone, Ledgerock, Fairview, Bluff, Slate,
Vista, Cairn, Knoll, Escarpment, Hollow Rock, Pinnacle, Boulder, Quartz, Sandstone,
Glacier, Talus, Moraine, Esker, Drumlin, Basalt, Shale, Marble"""),
    "addition": words("""
Roundhouse, Boxcar, Signal, Tender, Switchyard, Section House, Trestle, Caboose,
Semaphore, Freight, Junction, Coaling, Telegraph, Water Tower"""),
    "lake": words("""
Loon, Cattail, Heron, Lily Pad, Otter, Dragonfly, Muskrat, Bulrush, Egret"""),
}
_VILLAGE = words("""
Penrose, Schoolhouse, Grange, Blacksmith, Parsonage, Tavern, Creamery, Harness, Wagon,
Cooper, Livery, Granary, Millstone""")


class Names:
    """Hands out each name once. Raises IndexError when a list is used up."""

    def __init__(self, random: Random) -> None:
        self._roads, self._lanes, self._village = list(_ROADS), list(_LANES), list(_VILLAGE)
        self._rows, self._columns = list(_ROW_NAMES), list(_COLUMN_NAMES)
        self._themes = {theme: list(names) for theme, names in _THEMES.items()}
        for names in (self._roads, self._lanes, self._village, *self._themes.values()):
            random.shuffle(names)

    def road(self) -> str:
        """A country road."""
        return f"{self._roads.pop()} Road"

    def lane(self) -> str:
        """A dead-end lane in the country."""
        return f"{self._lanes.pop()} Lane"

    def village(self) -> str:
        """A village street."""
        return f"{self._village.pop()} Street"

    def themed(self, theme: str, ending: str) -> str:
        """A street of a subdivision, named after its theme."""
        return f"{self._themes[theme].pop()} {ending}"

    def core(self, axis: str, off_axis: int) -> str:
        """A core street: trees run east-west, people and trades north-south."""
        if off_axis == 0:
            return "Main Street" if axis == "row" else "Court Street"
        names = self._rows if axis == "row" else self._columns
        return f"{names.pop()} {'Avenue' if axis == 'column' and off_axis % 4 == 0 else 'Street'}"
