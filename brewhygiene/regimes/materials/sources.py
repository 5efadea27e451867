"""Where the rows on materials, heat and meeting agents are from.

A named source was read in an excerpt, an abstract or a copy. A label, a safety data sheet or a
local code overrules every row.
"""

from brewhygiene.regimes.drafts import COMMON_PRACTICE

SOURCES: dict[str, str] = {
    "CD": "Cords and Dychdala 1993, as adapted in Arizona DHS, Food Equipment Cleaning and "
    "Sanitizing, table 3",
    "CHN": "Study on the corrosiveness of peroxide disinfectants to metals, Chinese journal "
    "2024(2), abstract",
    "CORR08": "Corrosion 64(11):871, 2008, abstract",
    "CP": COMMON_PRACTICE,
    "CSCC": "Corrosion in Caustic Solutions, bulletin of a corrosion consultancy, undated",
    "FAB15": "Fabrizio et al. 2015, as summarised by a mixed-fermentation wiki",
    "FSI": "Summary of materials for food processing, a food-safety web page, 2015",
    "GISN": "GisChem (German statutory accident insurers), sheet nitric acid 5 to 20 %",
    "GISP": "GisChem (German statutory accident insurers), sheet peroxyacetic acids",
    "HH": "Handbook of Hygiene Control in the Food Industry, Woodhead 2005, chapter 15",
    "ICSC360": "International Chemical Safety Card 0360 and its potassium twin",
    "ICSC482": "International Chemical Safety Card 0482",
    "ICSC1031": "International Chemical Safety Card 1031",
    "IHO": "German detergent and disinfectant makers' association, notes on peracetic acid",
    "JCSCP18": "Journal of the Chinese Society for Corrosion and Protection 38(5):455, 2018, "
    "abstract",
    "JFE14": "Journal of Food Engineering 121:159-165, 2014, abstract",
    "LU": "O. Hansson, thesis on elastomer gaskets, Lund University 2017, abstract",
    "MANUAL": "Brewers Association, Draught Beer Quality Manual, as summarised by secondary pages",
    "MEM": "from memory",
    "MFG": "Metal finishing guidebook 2012-13, table VIII",
    "NPG": "NIOSH Pocket Guide, phosphoric acid",
    "NYS": "New York State Agriculture and Markets, sanitizers: advantages and disadvantages",
    "OSHAH": "US occupational guideline for hydrogen peroxide, in a copy",
    "OZ94": "Effect of ozonated water sanitization on gasket materials, 1994, abstract",
    "PPGUIDE": "A polypropylene chemical-resistance guide based on ASTM D543, preface",
    "SCH": "P. A. Schweitzer, Corrosion Resistance Tables, 5th edition, as quoted in an "
    "engineers' forum",
    "SCH+GISN": "P. A. Schweitzer, Corrosion Resistance Tables, 5th edition, as quoted in an "
    "engineers' forum; GisChem, sheet nitric acid 5 to 20 %",
    "SEAL": "A seal maker's sealing technology manual for the process industry",
    "TABLE": "A sanitizer table on a public page",
    "TCA": "Wine and barrel-care pages on chlorine (secondary)",
    "TRD": "A brewery's published procedure",
}
