"""Words of the trade beyond those of a schema: headers that tables carry, and what cells say.

All of them are common words, gathered from how owners head and fill a table; no list was taken from anywhere. A schema's
own names and aliases go before. Words belong to columns and attributes by their names in the default schema; a schema
that lacks one passes over its words.
"""

from __future__ import annotations

HEADERS: dict[str, tuple[str, ...]] = {
    "sale": ("no", "nr", "number", "sale no", "lot no", "comp", "numero", "nummer"),
    "date": (
        "sold", "when", "when sold", "day sold", "sale day", "month sold", "year sold", "sale year", "auction day",
        "date of auction", "closed on", "datum", "verkaufsdatum", "verkauft am", "date de vente", "vendu le", "fecha",
        "fecha de venta", "data", "data di vendita", "datum verkoop",
    ),
    "price": (
        "sold for", "price sold", "selling price", "final price", "price realised", "price realized", "realised",
        "realized", "paid", "bid", "final bid", "winning bid", "hammer", "usd", "eur", "gbp", "$", "€", "£", "money",
        "preis", "verkaufspreis", "erlös", "betrag", "zuschlag", "prix", "prix de vente", "montant", "precio",
        "precio de venta", "importe", "prezzo", "prezzo di vendita", "prijs",
    ),
    "outcome": (
        "sold", "sold?", "how it went", "how it ended", "what happened", "outcome of sale", "sale status", "ergebnis",
        "ausgang", "verkauft", "résultat", "vendu", "resultado", "vendido", "esito", "venduto", "type of price",
        "price type", "kind of price",
    ),
    "currency": ("cur", "curr", "währung", "devise", "moneda", "valuta"),
    "venue": (
        "where", "seller", "sold by", "house", "sold through", "market", "platform", "site", "auktionshaus",
        "ort", "lieu", "maison", "lugar", "casa", "luogo",
    ),
    "premium": ("prem", "bp", "buyer prem", "commission", "aufgeld", "frais acheteur"),
    "fees": ("charges", "other fees", "gebühren", "frais"),
    "source": ("website", "web", "seen at", "seen in", "quelle", "fuente", "fonte"),
    "arms_length": ("arm's length?", "open market", "stranger", "kind of deal"),
    "vehicle": ("chassis no", "frame no", "frame number", "serial no", "engine no", "fahrgestellnummer", "fin", "bastidor",
                "telaio", "plate", "registration", "reg no"),
    "confirmed": ("ok", "double checked"),
    "family": (
        "model", "make/model", "make & model", "model name", "vehicle", "car", "truck", "what", "type of vehicle",
        "description", "modell", "marke/modell", "fahrzeug", "modèle", "marque et modèle", "modelo", "marca y modelo",
        "modello",
    ),
    "model_year": (
        "yr", "mod year", "model yr", "my", "build year", "year made", "year of build", "vintage", "baujahr", "jahr",
        "année", "millésime", "año", "ano", "anno", "bouwjaar",
    ),
    "body": ("type", "body type", "shape", "model type", "karosserie", "aufbau", "carrosserie", "carrocería",
             "carrozzeria"),
    "condition": ("cond", "grade", "rating", "overall", "quality", "how good", "zustand", "état", "estado",
                  "condizione", "stato", "staat"),
    "drivetrain": (
        "engine", "engine/gearbox", "engine & gearbox", "engine and gearbox", "motor", "mechanicals", "mechanical",
        "running gear", "antrieb", "motor/getriebe", "moteur", "mécanique", "mecánica", "motore",
    ),
    "paint": ("paint job", "paint grade", "outside", "respray", "lack", "lackierung", "peinture", "pintura", "vernice"),
    "awards": ("prize", "won", "show wins", "trophy", "preise", "auszeichnungen", "prix obtenus", "premios", "premi"),
    "chassis": ("frame condition", "rahmen", "châssis", "telaio stato"),
    "interior": ("inside", "seats", "seat", "int", "interieur", "innenraum", "innen", "intérieur", "interni"),
    "original_finish": ("orig paint", "original paint?", "factory paint", "erstlack", "peinture d'origine"),
    "mileage": ("mi", "km", "kms", "kilometres", "kilometers", "kilometer", "odo reading", "odometer reading", "clock",
                "distance", "laufleistung", "kilometerstand", "km stand", "kilométrage", "kilómetros", "kilometraje",
                "chilometri", "chilometraggio"),
    "documentation": ("docs", "file", "service history", "records", "unterlagen", "dokumente", "papiere", "historique",
                      "documentos", "documenti"),
    "colour": ("col", "farbe", "couleur", "colore"),
    "region": ("state", "state sold", "where sold", "area", "land", "région", "región", "regione", "pays", "país", "paese"),
}  # fmt: skip
"""Headers by what they mean, in English, German, French, Spanish and Italian; one may stand with several."""

WEAK_HEADERS: dict[str, tuple[str, ...]] = {
    "family": ("make", "marke", "marque", "marca", "merk"),
}
"""Headers that mean a column where the table has no better one: a make, where no column holds the model line."""

OUTCOMES: dict[str, tuple[str, ...]] = {
    "sold": (
        "yes", "y", "s", "done", "gone", "hammer", "hammered", "sold for", "sold at", "sold at auction", "sold privately",
        "private sale", "closed", "completed", "bought", "verkauft", "vendu", "vendido", "venduto", "verkocht",
    ),
    "bid_not_met": (
        "bid", "highest bid", "top bid", "best bid", "rnm", "reserve not reached", "not reached", "unsold", "did not sell",
        "no reserve met", "passed", "withdrawn at", "bid only", "nicht verkauft", "invendu", "no vendido", "invenduto",
    ),
    "asking": (
        "listing", "ad", "advert", "advertisement", "still for sale", "on sale", "dealer ask", "dealer asking", "asked",
        "offer", "available", "price asked", "inserat", "angebot", "à vendre", "en venta", "in vendita",
    ),
}  # fmt: skip
"""What a price is, by outcome. "No" alone is not here: it may be a bid or an asking price."""

LEVELS: dict[str, dict[str, tuple[str, ...]]] = {
    "condition": {
        "derelict": ("parts car", "parts truck", "parts vehicle", "for parts", "donor", "shell", "scrap", "rust bucket",
                     "rusted out", "beyond repair", "very poor", "teileträger", "schrott", "épave", "ruina"),
        "project": ("proj", "restoration", "needs restoration", "to restore", "unfinished", "incomplete", "basket case",
                    "non running", "does not run", "not running", "doesn't run", "dead", "poor", "bad", "barn", "projekt",
                    "restaurierungsobjekt", "à restaurer", "projet", "proyecto", "para restaurar", "da restaurare"),
        "runner": ("run", "rough runner", "runs rough", "runs and moves", "starts", "starts and moves", "fair", "average",
                   "usable", "rough", "fahrbereit", "roulant", "funciona", "marciante"),
        "driver": ("drives", "runs and drives", "runs & drives", "drivable", "driveable", "nice driver", "solid driver",
                   "daily", "good", "very good", "nice", "clean", "tidy", "sound", "gut", "sehr gut", "bon état", "bon",
                   "buen estado", "bueno", "buono"),
        "show": ("shows", "show car", "show truck", "show winner", "show ready", "excellent", "mint", "perfect", "superb",
                 "immaculate", "like new", "restored", "fully restored", "restauriert", "perfekt", "excellent état",
                 "restauré", "excelente", "restaurado", "eccellente", "restaurato"),
    },
    "drivetrain": {
        "original": ("orig", "factory", "numbers matching", "matching", "standard", "as built"),
        "rebuilt-original": ("orig rebuilt", "original - rebuilt", "rebuilt orig", "overhauled", "reconditioned",
                             "recon", "rebuild"),
        "period-swap": ("period", "period correct", "old swap", "other period"),
        "modern-swap": ("modern", "swapped", "crate", "crate engine", "later engine", "newer engine", "conversion",
                        "converted"),
        "electric-swap": ("ev", "battery"),
        "missing": ("gone", "none", "out", "not there", "no motor", "engine missing"),
    },
    "paint": {
        "bare": ("bare metal", "in primer", "stripped", "rust", "rusty", "gone"),
        "worn": ("poor", "tired", "flaking", "old", "patina", "bad", "dull"),
        "presentable": ("ok", "okay", "good", "decent", "average", "driver quality", "nice"),
        "fresh": ("new", "recent", "recent respray", "resprayed", "repaint", "very good"),
        "show-finish": ("excellent", "perfect", "mint", "flawless", "show finish"),
    },
    "interior": {
        "bare": ("missing", "none left", "empty"),
        "worn": ("poor", "torn", "tired", "bad", "cracked"),
        "presentable": ("ok", "okay", "good", "decent", "average", "nice", "original"),
        "fresh": ("very good", "retrimmed", "re-trimmed", "recovered", "reupholstered", "restored"),
        "show-finish": ("excellent", "perfect", "mint", "flawless"),
    },
    "awards": {
        "none": ("n", "nothing", "0"),
        "local": ("town", "county", "club show", "local show"),
        "regional": ("regional show", "provincial"),
        "national": ("national show",),
    },
    "chassis": {
        "original": ("orig", "factory", "sound"),
        "repaired": ("repair", "plated"),
        "reinforced": ("strengthened",),
        "replaced": ("new frame", "other frame"),
        "modern": ("modern frame",),
    },
    "documentation": {
        "none": ("nothing", "n", "missing", "title only"),
        "some": ("few", "a few", "y", "yes", "incomplete", "partly"),
        "full": ("all", "full history", "complete history", "extensive", "folder", "thick file"),
    },
}  # fmt: skip
"""Words of cells by attribute and level of the default schema, beyond the level's own aliases."""

KINDS: dict[str, tuple[str, ...]] = {
    "body": (
        "pickup", "pick up", "pick-up", "stepside", "panel", "panel van", "panel truck", "van", "sedan", "saloon", "wagon",
        "estate", "coupe", "coupé", "convertible", "cabrio", "cabriolet", "roadster", "tourer", "phaeton", "fastback",
        "hardtop", "hatchback", "flatbed", "stake bed", "stakebed", "tow truck", "tanker", "fire truck", "bus", "chassis cab",
        "cab chassis", "limousine", "utility", "ute", "woodie", "2 door", "4 door", "two door", "four door", "2-door sedan",
        "4-door sedan", "crew cab", "truck", "spider", "targa", "kombi", "limousine", "berline", "berlina", "cupé", "familiar",
        "camioneta",
    ),
    "colour": (
        "red", "dark red", "maroon", "burgundy", "orange", "yellow", "cream", "ivory", "white", "off white", "black", "grey",
        "gray", "silver", "blue", "light blue", "dark blue", "navy", "green", "dark green", "light green", "turquoise", "teal",
        "brown", "tan", "beige", "gold", "pink", "purple", "two tone", "two-tone", "primer", "bronze", "rot", "blau", "grün",
        "schwarz", "weiß", "grau", "gelb", "rouge", "bleu", "vert", "noir", "blanc", "gris", "rojo", "azul", "verde", "negro",
        "blanco", "rosso", "blu", "nero", "bianco",
    ),
}  # fmt: skip
"""Words that show what a column without a closed scale is about, by attribute of the default schema."""

MONEY_WORDS = frozenset({
    "price", "ask", "asking", "asked", "cost", "costs", "total", "paid", "estimate", "est", "value", "worth", "bid",
    "hammer", "premium", "tax", "vat", "margin", "profit", "offer", "reserve", "guide", "usd", "eur", "gbp", "$", "€", "£",
    "preis", "prix", "precio", "prezzo",
})  # fmt: skip
"""Words in a header that say that a column holds money: of a vehicle yet to be sold it is not known."""

COUNT_WORDS = frozenset({
    "doors", "owners", "keys", "seats", "cylinders", "number", "count", "wheels", "gears", "axles", "photos", "pictures",
})  # fmt: skip
"""Words in a header that say that a column counts something."""

RIGHT_HAND = frozenset({"rhd", "right hand drive", "right-hand drive", "rh drive", "right hand", "rechtslenker"})
"""Headers of a column that says which side the wheel is on."""

MILE_WORDS = ("miles", "mile", "mi")
KILOMETRE_WORDS = ("km", "kms", "kilometres", "kilometers", "kilometer", "kilometre", "kilometerstand", "kilométrage",
                   "kilómetros", "kilometraje", "chilometri", "chilometraggio", "laufleistung")  # fmt: skip
"""Words in a header or behind a number that say which unit a distance is in."""

LEFT_OUT = frozenset({
    "remarks", "remark", "notes", "note", "comments", "comment", "bemerkung", "bemerkungen", "remarques", "notas", "link",
    "url", "photo", "picture", "photos", "buyer", "phone", "contact", "row", "#",
})  # fmt: skip
"""Headers of columns that describe no vehicle, however their cells look."""
