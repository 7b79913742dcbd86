/**
 * Spellings of units as they stand in unit rows and after numbers. Only used to tell a unit row from a name row and a
 * number with its unit from a text state; what a unit means is decided where the recording is built.
 */
const WORDS = new Set(
  (
    's sec secs second seconds ms msec millisecond milliseconds us µs μs usec min minute minutes h hr hour hours ' +
    'rpm 1/min min-1 min^-1 r/min u/min hz khz rad/s ' +
    '% pct percent ‰ - -- 1 ratio :1 [-] (-) x ' +
    '°c degc deg.c c °f degf f k kelvin celsius fahrenheit ° deg degree degrees °btdc °ca degca grad rad °crk deg/s °/s ' +
    'kpa mpa hpa pa mbar bar psi psia psig inhg mmhg atm kpa(a) kpa(g) bara barg mbara kpa_abs mmh2o inh2o ' +
    'km/h kmh kph mph mi/h m/s m/s2 m/s^2 m/s² g mm/s km m mm cm mi mile miles in ft ' +
    'g/s kg/h kg/s lb/min lb/h lbs/min mg mg/str mg/stk mg/stroke mg/hub g/rev g/kg kg lb l l/h l/100km gal ml cc cc/min mpg mm3 mm³ ' +
    'nm n.m n·m n-m n*m lb-ft lbft ft-lb ftlb lb.ft kw hp ps bhp w ' +
    'v mv volt volts a ma amp amps ohm kohm ω kω lambda λ afr phi count counts cnt steps step bit bits bool on/off state enum ' +
    'ppm pw us/ms raw hex # #/m3 #/s j kj mj kwh wh'
  ).split(' '),
);

/** True for a unit spelling, with or without brackets. */
export function isUnitWord(cell: string): boolean {
  const bare = unbracket(cell).toLowerCase().replaceAll(' ', '');
  return bare.length > 0 && bare.length <= 12 && WORDS.has(bare);
}

export function isBracketed(cell: string): boolean {
  const first = cell[0];
  const last = cell[cell.length - 1];
  return (
    cell.length >= 2 &&
    ((first === '[' && last === ']') || (first === '(' && last === ')') || (first === '{' && last === '}'))
  );
}

export function unbracket(cell: string): string {
  return isBracketed(cell) ? cell.slice(1, -1).trim() : cell;
}

/** Number and unit of a cell such as `87 °C` or `12.3%`; null when the rest is not a unit. */
export function numberWithUnit(cell: string): { number: string; unit: string } | null {
  let at = 0;
  while (at < cell.length) {
    const code = cell.charCodeAt(at);
    if ((code >= 48 && code <= 57) || code === 43 || code === 45 || code === 46 || code === 44) at++;
    else break;
  }
  if (at === 0 || at >= cell.length || cell.length > 40) return null;
  const unit = cell.slice(at).trim();
  return unit !== '-' && isUnitWord(unit) ? { number: cell.slice(0, at), unit } : null;
}
