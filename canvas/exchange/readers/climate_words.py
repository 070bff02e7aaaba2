"""Headings, units, months and missing codes of climate tables, in several languages."""

from __future__ import annotations

import re

from canvas.exchange.headings import bare, words

NAMES: dict[str, tuple[str, ...]] = {
    "tmax_c": words(
        "tmax tx maxtemp tempmax tmaxc temperaturemax maxtemperature maximumtemperature txk tasmax "
        "temperaturamaxima tempmaxima tmaxima temperaturemaximale temperaturamassima tmassima "
        "hochsttemperatur maximaltemperatur tmaxmean meanmaximumtemperature airtmax"
    ),
    "tmin_c": words(
        "tmin tn mintemp tempmin tminc temperaturemin mintemperature minimumtemperature tnk tasmin "
        "temperaturaminima tempminima tminima temperatureminimale tiefsttemperatur "
        "minimaltemperatur tminmean meanminimumtemperature airtmin"
    ),
    "tmean_c": words(
        "tmean tavg tmed meantemp tempmean avgtemp tempavg meantemperature averagetemperature "
        "temperaturamedia tmedia temperaturemoyenne tmoy mitteltemperatur tmittel tmk tg tas"
    ),
    "t_c": words("temp temperature temperatura temperatur drybulb tdb airtemp airtemperature t"),
    "dew_c": words("dew dewpoint tdew dewpointtemperature puntoderocio pontodeorvalho taupunkt td"),
    "rain_mm": words(
        "rain rainfall precip precipitation prcp ppt pr rr rsk rainfallamount precipitationamount "
        "totalprecipitation lluvia precipitacion chuva precipitacao pluie precipitations pioggia "
        "precipitazione precipitazioni niederschlag niederschlagshohe regen p"
    ),
    "rh_max": words("rhmax maxhumidity humiditymax maximumrelativehumidity hrmax"),
    "rh_min": words("rhmin minhumidity humiditymin minimumrelativehumidity hrmin"),
    "rh_mean": words(
        "rh rhmean humidity relativehumidity meanhumidity humedad humedadrelativa humidade "
        "humidaderelativa umidade umidaderelativa humidite humiditerelative umidita "
        "umiditarelativa feuchte relativefeuchte luftfeuchte upm hr rhum"
    ),
    "wind_ms": words(
        "wind windspeed ws ff fm u2 u10 awnd wspd meanwindspeed windmean velocidaddelviento viento "
        "vento velocidadedovento vent vitesseduvent velocitavento windgeschwindigkeit"
    ),
    "wind_from_deg": words(
        "winddir winddirection wd dd wdir wdf direcciondelviento direcaodovento directionduvent "
        "direzionevento windrichtung windfrom"
    ),
    "sun_h": words(
        "sun sunshine sunhours sunshinehours sunshineduration brightsunshine insolation insolacion "
        "horasdesol insolacao soleil ensoleillement eliofania sonnenschein sonnenscheindauer sdk"
    ),
    "radiation_mj": words(
        "radiation solarradiation globalradiation solar rs ghi srad rg dailysolarexposure "
        "globalsolarexposure radiacion radiacionsolar radiacao radiacaosolar rayonnement "
        "radiazione radiazioneglobale globalstrahlung"
    ),
    "pressure_kpa": words("pressure stationpressure presion pressao pression pressione luftdruck"),
    "et_mm": words("et0 eto et evapotranspiration evapotranspiracion evapotranspiracao etp pet"),
}

DATE = words("date day datum fecha data dia jour giorno tag time datetime timestamp valid dateutc")
YEAR = words("year yr yyyy ano annee anno jahr y")
MONTH = words("month mo mm mes mois mese monat m")
DAY = words("day dy dd dia jour giorno tag d dayofmonth")
DAY_OF_YEAR = words("doy jday julian dayofyear yearday j")

#: First letters of the months in the languages of `NAMES`.
MONTHS: tuple[tuple[str, ...], ...] = (
    words("jan ene gen"), words("feb fev"), words("mar mrz mae"), words("apr abr avr"),
    words("may mai mag"), words("jun giu juin"), words("jul lug juil"), words("aug ago aou aout"),
    words("sep set"), words("oct out ott okt"), words("nov"), words("dec dic dez"),
)  # fmt: skip

#: Unit as written -> (unit as shown, factor, added after): SI = factor x number + added.
Units = dict[str, tuple[str, float, float]]


def _units(shown: str, factor: float, *written: str, added: float = 0.0) -> Units:
    return dict.fromkeys((*written, shown.casefold()), (shown, factor, added))


TEMPERATURE: Units = (
    _units("°C", 1.0, "c", "degc", "celsius", "degreec", "degreecelsius", "gradosc")
    | _units("°F", 5 / 9, "f", "degf", "fahrenheit", "degreef", added=-160 / 9)
    | _units("K", 1.0, "kelvin", added=-273.15)
    | _units("0.1 °C", 0.1, "0.1c", "0.1degc", "tenthsc")
)
DEPTH: Units = (
    _units("mm", 1.0, "millimetres", "millimeters", "millimetre", "l/m2", "kg/m2", "mm/day")
    | _units("in", 25.4, "inch", "inches")
    | _units("cm", 10.0)
    | _units("0.1 mm", 0.1, "0.1mm", "tenthsmm")
)
SPEED: Units = (
    _units("m/s", 1.0, "ms", "ms-1", "mps", "m.s-1")
    | _units("km/h", 1 / 3.6, "kmh", "kph", "kmh-1")
    | _units("mph", 0.44704, "mi/h", "milesperhour")
    | _units("kn", 1852 / 3600, "kt", "kts", "knots", "knot")
)
SHARE: Units = _units("%", 0.01, "pct", "percent") | _units("fraction", 1.0, "ratio")
HOURS: Units = _units("h", 1.0, "hours", "hrs", "hour") | _units("min", 1 / 60, "minutes")
ENERGY: Units = (
    _units("MJ/m²", 1.0, "mj", "mj/m2", "mj/m2/day", "mjm2", "mj/m*m", "mjm-2", "mj/m2/d")
    | _units("kWh/m²", 3.6, "kwh", "kwh/m2", "kwh/m2/day")
    | _units("Wh/m²", 0.0036, "wh", "wh/m2")
    | _units("W/m²", 0.0864, "w/m2", "w", "wm-2", "wm2")
    | _units("J/cm²", 0.01, "j/cm2", "jcm2")
    | _units("langley", 0.041868, "ly", "langleys", "cal/cm2")
)
PRESSURE: Units = (
    _units("kPa", 1.0) | _units("hPa", 0.1, "mbar", "mb", "millibar") | _units("Pa", 0.001)
)
DEGREES: Units = _units("°", 1.0, "deg", "degrees", "degree")

UNITS_OF: dict[str, Units] = {
    **dict.fromkeys(("tmax_c", "tmin_c", "tmean_c", "t_c", "dew_c"), TEMPERATURE),
    **dict.fromkeys(("rain_mm", "et_mm"), DEPTH),
    **dict.fromkeys(("rh_max", "rh_min", "rh_mean"), SHARE),
    **dict.fromkeys(("radiation_mj", "beam_mj", "diffuse_mj"), ENERGY),
    "wind_ms": SPEED,
    "wind_from_deg": DEGREES,
    "sun_h": HOURS,
    "pressure_kpa": PRESSURE,
}
#: What is taken where neither the heading nor the person says.
USUAL = {
    "tmax_c": "°C", "tmin_c": "°C", "tmean_c": "°C", "t_c": "°C", "dew_c": "°C", "rain_mm": "mm",
    "et_mm": "mm", "rh_max": "%", "rh_min": "%", "rh_mean": "%", "wind_ms": "m/s",
    "wind_from_deg": "°", "sun_h": "h", "radiation_mj": "MJ/m²", "beam_mj": "MJ/m²",
    "diffuse_mj": "MJ/m²", "pressure_kpa": "hPa",
}  # fmt: skip

#: Texts that say "no value", and one that says "too little to measure".
MISSING = frozenset(words("na n/a nan null none - -- . x m missing nd s/d n.d. *"))
TRACE = frozenset(words("t tr trace traza"))
#: No weather is this cold, and none of these is measured: codes for "no value".
LOWEST_CODE, HIGH_CODES = -99.0, frozenset((9999.0, 99999.0, 999999.0, 999.9, 9999.9))


def tidy_unit(text: str) -> str:
    """Return a unit as the tables above write it."""
    plain = text.casefold().strip().replace("²", "2").replace("⁻", "-").replace("^", "")
    return re.sub(r"[\s°º]|deg\.", "", plain).replace("per", "/")


def unit_of(key: str, text: str) -> tuple[str, float, float] | None:
    """Return (unit, factor, added) for a unit as somebody wrote it, or None."""
    table = UNITS_OF.get(key, {})
    return table.get(text.casefold().strip()) or table.get(tidy_unit(text))


def column_of(heading: str) -> tuple[str, str] | None:
    """Return (column key, unit as written or "") for a heading, or None.

    "Tmax (°F)", "rain_mm", "Maximum temperature (Degree C)", "Precipitación [mm]".
    """
    name, unit = heading, ""
    bracketed = re.fullmatch(r"(.*?)[,\s]*[\[(]\s*([^\])]*)\s*[\])]\s*", heading)
    if bracketed:
        name, unit = bracketed[1], bracketed[2]
    key = _named(bare(name))
    if key is None:
        pieces = re.split(r"[\s_,\-]+", name.strip())
        if len(pieces) > 1:
            key, unit = _named(bare("".join(pieces[:-1]))), unit or pieces[-1]
            if key is not None and unit_of(key, unit) is None:
                return None
    return None if key is None else (key, unit)


def _named(name: str) -> str | None:
    return next((key for key, names in NAMES.items() if name in names), None)


def month_of(text: str) -> int | None:
    """Return the month (1 to 12) a cell names, by number or word, or None."""
    plain = bare(text)
    if plain.isdigit():
        return int(plain) if 1 <= int(plain) <= 12 else None
    if len(plain) < 3:
        return None
    return next((n for n, starts in enumerate(MONTHS, 1) if plain.startswith(starts)), None)
