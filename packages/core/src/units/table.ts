import type { Quantity, Unit } from './unit.js';

/** [id, factor to the base unit, spellings, divisor, offset]; the first unit of a quantity is its base. */
type Row = readonly [string, number, string, number?, number?];

// Exact by definition: inch 0.0254 m, pound 0.45359237 kg, standard gravity 9.80665 m/s2 (NIST SP 811, 2008, app. B).
const GN = 9.80665;
const LB = 0.45359237;
const FOOT = 0.3048;
/** Pa in one psi: pound-force over a square inch. */
const PSI = (LB * GN) / (0.0254 * 0.0254);

/**
 * Spellings are separated by `|`. They are compared after folding (case, blanks, dots, degree signs); what differs only
 * by case (`mA`/`MA`, `g`/`G`) is settled in `spelling.ts`.
 */
const ROWS: Readonly<Record<Quantity, readonly Row[]>> = {
  time: [
    ['s', 1, 's|sec|secs|second|seconds|sek|sekunde|sekunden|seconde|secondes|segundo|segundos'],
    ['ms', 1, 'ms|msec|msecs|millisecond|milliseconds|millis|millisec', 1000],
    ['us', 1, 'us|µs|usec|microsecond|microseconds|micros', 1_000_000],
    ['min', 60, 'min|mins|minute|minutes|minuten'],
    ['h', 3600, 'h|hr|hrs|hour|hours|std|stunden|heure|heures|hora|horas'],
    ['d', 86_400, 'd|day|days'],
  ],
  frequency: [
    ['Hz', 1, 'hz|hertz|1/s|s-1|s^-1|sps'],
    ['kHz', 1000, 'khz'],
  ],
  rotation: [
    [
      'rpm',
      1,
      'rpm|r/min|rev/min|revs/min|revolutions per minute|1/min|min-1|min^-1|u/min|umin|u/m|upm|tr/min|giri/min|/min|rpms|revs per minute|1/minute|r.p.m',
    ],
    ['rad/s', 30, 'rad/s|rad/sec|rads|radians per second|radian/s', Math.PI],
    ['deg/s', 1, 'deg/s|deg/sec|°/s|°/sec|degrees per second|degree/s|dps|grad/s', 6],
    ['krpm', 1000, 'krpm|1000 rpm|1000/min|x1000 rpm|rpm x1000'],
    ['rev/s', 60, 'rev/s|r/s|rps|revs/s'],
  ],
  speed: [
    [
      'km/h',
      1,
      'km/h|kmh|kph|kmph|km/hr|km/hour|kmh-1|km·h-1|kilometers per hour|kilometres per hour|kmperhour|k/h|km-h',
    ],
    ['m/s', 3.6, 'm/s|mps|m/sec|ms-1|m·s-1|m s^-1|meters per second|metres per second|meter/s'],
    ['mph', 1.609344, 'mph|mi/h|miles/h|miles per hour|mile/h|mi/hr|miles/hour'],
    ['knot', 1.852, 'knot|knots|kn|kt|kts'],
    ['ft/s', FOOT * 3.6, 'ft/s|fps|feet per second'],
  ],
  acceleration: [
    ['m/s2', 1, 'm/s2|m/s²|m/s^2|m/s/s|m/sec2|m/sec^2|mps2|ms-2|m·s-2|meters per second squared|m/s**2'],
    ['gn', GN, 'gn|g|gs|g-force|gforce|g force|g0|g_n'],
    ['ft/s2', FOOT, 'ft/s2|ft/s²|ft/s^2'],
  ],
  jerk: [['m/s3', 1, 'm/s3|m/s³|m/s^3']],
  length: [
    ['m', 1, 'm|meter|meters|metre|metres|mtr'],
    ['km', 1000, 'km|kms|kilometer|kilometers|kilometre|kilometres'],
    ['mm', 1, 'mm|millimeter|millimeters|millimetre|millimetres', 1000],
    ['cm', 1, 'cm|centimeter|centimetre', 100],
    ['mile', 1609.344, 'mile|miles|mi'],
    ['ft', FOOT, 'ft|foot|feet'],
    ['in', 0.0254, 'in|inch|inches|"'],
  ],
  area: [
    ['m2', 1, 'm2|m²|m^2|sqm'],
    ['cm2', 1, 'cm2|cm²|cm^2', 10_000],
  ],
  angle: [
    [
      'deg',
      1,
      'deg|degs|degree|degrees|°|º|degca|°ca|ca|cad|deg ca|degrees ca|degcrk|deg crk|°crk|°crs|degcrank|crankshaft degrees|°kw|degkw|kw°|degbtdc|°btdc|deg btdc|btdc|°vot|grad|angular degrees|deg crank|cam deg|degcam|°cam|crk deg|ca deg|arc deg',
    ],
    ['rad', 180, 'rad|radian|radians', Math.PI],
  ],
  mass: [
    ['kg', 1, 'kg|kilogram|kilograms|kgs'],
    ['g', 1, 'g|gram|grams|gramm|gr', 1000],
    ['mg', 1, 'mg|milligram|milligrams', 1_000_000],
    ['lb', LB, 'lb|lbs|pound|pounds|lbm'],
    ['t', 1000, 't|tonne|tonnes|ton (metric)'],
  ],
  density: [
    ['kg/m3', 1, 'kg/m3|kg/m³|kg/m^3'],
    ['g/cm3', 1000, 'g/cm3|g/cm³|g/cc|kg/l|g/ml'],
  ],
  volume: [
    ['L', 1, 'l|liter|liters|litre|litres|dm3|dm³'],
    ['cm3', 1, 'cm3|cm³|ccm|cc|ml|cm^3', 1000],
    ['m3', 1000, 'm3|m³|m^3'],
    ['in3', 0.016387064, 'in3|in³|cu in|cuin|ci|cid|cubic inch|cubic inches'],
    ['gal', 3.785411784, 'gal|us gal|gallon|gallons|usgal'],
    ['gal(UK)', 4.54609, 'uk gal|ukgal|imp gal|imperial gallon'],
  ],
  pressure: [
    ['kPa', 1, 'kpa|kilopascal|kilopascals'],
    ['Pa', 1, 'pa|pascal|pascals|n/m2|n/m²', 1000],
    ['hPa', 1, 'hpa|hectopascal|hectopascals', 10],
    ['MPa', 1000, 'mpa|megapascal|megapascals|n/mm2'],
    ['bar', 100, 'bar|bars'],
    ['mbar', 1, 'mbar|millibar|millibars|mb', 10],
    ['psi', PSI, 'psi|lb/in2|lbf/in2|lb/in²|lbf/in^2|lb/sqin|pounds per square inch|lbs/in2', 1000],
    ['inHg', 3.386388640341, 'inhg|in hg|"hg|inches hg|inch hg|in.hg|inches of mercury|inches mercury'],
    ['mmHg', 133.322387415, 'mmhg|mm hg|millimeters of mercury', 1000],
    ['torr', 101.325, 'torr', 760],
    ['atm', 101.325, 'atm|atmosphere|atmospheres'],
    ['inH2O', 249.08891, 'inh2o|in h2o|in.h2o|inches h2o|inwc|iwc|inches of water|"h2o', 1000],
    ['kgf/cm2', 98.0665, 'kgf/cm2|kgf/cm²|kg/cm2|kg/cm²|kg/cm^2|kgcm2'],
  ],
  temperature: [
    [
      'degC',
      1,
      'degc|°c|ºc|℃|c|celsius|celcius|centigrade|deg c|degree c|degrees c|deg celsius|degrees celsius|degree celsius|grad c|grad celsius|gradc',
    ],
    [
      'degF',
      5,
      'degf|°f|ºf|℉|f|fahrenheit|farenheit|deg f|degree f|degrees f|degrees fahrenheit|deg fahrenheit',
      9,
      -32,
    ],
    ['K', 1, 'k|kelvin|°k|degk|deg k', 1, -273.15],
  ],
  'mass-flow': [
    ['g/s', 1, 'g/s|g/sec|gm/s|grams/s|grams/sec|gram/s|gs-1|grams per second|gm/sec|gr/s|g·s-1'],
    ['kg/h', 1, 'kg/h|kgh|kg/hr|kg/hour|kilograms per hour|kgph', 3.6],
    ['kg/s', 1000, 'kg/s|kg/sec'],
    ['kg/min', 1000, 'kg/min', 60],
    ['g/min', 1, 'g/min', 60],
    ['mg/s', 1, 'mg/s', 1000],
    ['lb/min', LB * 1000, 'lb/min|lbs/min|lb/m|lbm/min|lbmin|ppm(lb)|pounds per minute', 60],
    ['lb/h', LB * 1000, 'lb/h|lb/hr|lbs/hr|lbs/h|pph|lbm/h|lbh|pounds per hour', 3600],
  ],
  'volume-flow': [
    ['L/h', 1, 'l/h|lph|l/hr|liter/h|litre/h|liters/hour|litres per hour|liters per hour|lh'],
    ['L/min', 60, 'l/min|lpm|liter/min|litre/min|liters per minute'],
    ['L/s', 3600, 'l/s'],
    ['cc/min', 60, 'cc/min|ccm/min|ml/min|cm3/min|cm³/min|ccmin', 1000],
    ['m3/h', 1000, 'm3/h|m³/h|m^3/h'],
    ['gal/h', 3.785411784, 'gal/h|gph|gal/hr|gallons per hour|us gal/h'],
  ],
  'mass-per-stroke': [
    ['mg/stroke', 1, 'mg/stroke|mg/str|mg/hub|mg/cyl|mg/cylinder|mg/stk|mg/cycle|mg/hb|mg/strk|mg/inj|mg/asp'],
    ['g/stroke', 1000, 'g/stroke|g/cyl|g/str'],
  ],
  ratio: [
    ['%', 1, '%|percent|pct|per cent|perc|prozent|%rel|% of reference|pourcent|prct'],
    ['fraction', 100, 'fraction|frac|0-1|0..1|ratio 0-1|fract'],
    ['permille', 1, '‰|permille|per mille|promille', 10],
    ['raw8', 100, 'raw8|0-255|raw 0-255|0..255', 255],
    // A multiplier around 1: 1.05 means +5 %.
    ['factor', 100, 'factor|multiplier|x1.00', 1, -1],
  ],
  number: [
    [
      '1',
      1,
      '1|-|--|[]|none|n/a|na|count|counts|cnt|#|no|no.|times|x|unitless|dimensionless|ratio|state|bool|boolean|enum|flag|gear|number|events|steps|index|[-]|[1]|on/off|0/1',
    ],
    ['ppm', 1, 'ppm', 1_000_000],
  ],
  mixture: [
    ['lambda', 1, 'lambda|λ|lam|lbd|lamda'],
    // phi = 1/lambda, dimensionless (Heywood 1988, ch. 3).
    ['phi', 1, 'phi|φ|equivalence ratio'],
    ['AFR', 1, 'afr|a/f|air/fuel|air-fuel ratio|air fuel ratio|afr:1|:1|kg/kg'],
  ],
  voltage: [
    ['V', 1, 'v|volt|volts|vdc|v dc|volt dc'],
    ['mV', 1, 'mv|millivolt|millivolts', 1000],
    ['kV', 1000, 'kv'],
  ],
  current: [
    ['A', 1, 'a|amp|amps|ampere|amperes'],
    ['mA', 1, 'ma|milliamp|milliamps|milliampere', 1000],
    ['uA', 1, 'ua|µa', 1_000_000],
  ],
  resistance: [
    ['ohm', 1, 'ohm|ohms|ω|Ω'],
    ['kohm', 1000, 'kohm|kω|kΩ'],
  ],
  charge: [['Ah', 1, 'ah|amp hours|ampere hour']],
  force: [
    ['N', 1, 'n|newton|newtons'],
    ['kN', 1000, 'kn(force)|kilonewton'],
    ['lbf', LB * GN, 'lbf|pound force|pound-force'],
    ['kgf', GN, 'kgf|kp|kilopond'],
  ],
  torque: [
    ['N.m', 1, 'n.m|nm|n·m|n*m|n-m|n m|newton meter|newton metre|newton meters|newton metres|newtonmeter|nxm'],
    [
      'lb-ft',
      LB * GN * FOOT,
      'lb-ft|lbft|ft-lb|ftlb|ft-lbs|lb.ft|lbf.ft|lbf-ft|ft.lb|ft lb|ft lbs|lb ft|lbs-ft|ft-lbf|ft*lb|lb*ft|foot pounds|pound feet|pound-feet|foot-pound|lbs ft|lbfft',
    ],
    ['kgf.m', GN, 'kgf.m|kgf-m|kgfm|kgm|kg-m|kg.m|kpm|mkg|mkp|kgf*m|kg·m'],
    ['in-lb', (LB * GN * FOOT) / 12, 'in-lb|lb-in|inlb|lbin|in-lbf|lbf.in'],
    ['kN.m', 1000, 'knm|kn.m|kn·m'],
  ],
  power: [
    ['kW', 1, 'kw|kilowatt|kilowatts'],
    ['W', 1, 'w|watt|watts', 1000],
    // 550 ft.lbf/s
    ['hp', 550 * FOOT * LB * GN, 'hp|bhp|whp|horsepower|hp(mech)|hp (uk)', 1000],
    // 75 kgf.m/s (DIN 66036)
    ['PS', 75 * GN, 'ps|cv|ch|pk|hp(metric)|metric hp|metric horsepower', 1000],
  ],
  energy: [
    ['kJ', 1, 'kj|kilojoule'],
    ['J', 1, 'j|joule|joules', 1000],
    ['MJ', 1000, 'mj(mega)|megajoule'],
    ['kWh', 3600, 'kwh|kw.h|kw·h'],
    ['Wh', 3.6, 'wh'],
    ['Btu', 1.05505585262, 'btu'],
  ],
};

function unitOf(quantity: Quantity, [id, factor, spellings, divisor = 1, offset = 0]: Row): Unit {
  return Object.freeze({
    id,
    quantity,
    factor,
    divisor,
    offset,
    ...(id === 'phi' ? { reciprocal: true as const } : {}),
    spellings: Object.freeze(spellings.split('|')),
  });
}

/** All units, grouped by quantity in the order of the table; frozen. */
export const UNITS: readonly Unit[] = Object.freeze(
  (Object.keys(ROWS) as Quantity[]).flatMap((quantity) => ROWS[quantity].map((row) => unitOf(quantity, row))),
);
