import { existsSync, readFileSync } from 'node:fs';
import fc from 'fast-check';
import Papa from 'papaparse';
import { describe, expect, it } from 'vitest';
import { convert, converter, findUnit, findUnits, parseQuantity, UNITS, UnitError } from '../../src/units/index.js';

const SHARED = new URL('../../../../../shared/validation/', import.meta.url);
const absent = !existsSync(SHARED);
function rows(name: string): Record<string, string>[] {
  return Papa.parse<Record<string, string>>(readFileSync(new URL(name, SHARED), 'utf8'), {
    header: true,
    skipEmptyLines: true,
  }).data;
}

/** Names of the published table -> spelling here; rows of compound units that no log is written in are left out. */
const NAMES: Readonly<Record<string, string>> = {
  'mmHg (conventional)': 'mmHg',
  'inHg (conventional)': 'inHg',
  'inH2O (conventional)': 'inH2O',
  'hp (mechanical, 550 ft.lbf/s)': 'hp',
  'PS / hp(metric) (75 kgf.m/s)': 'PS',
  Btu_IT: 'Btu',
  'US gallon': 'gal',
  'UK gallon': 'gal(UK)',
  g_n: 'gn',
  'degree (angle)': 'deg',
  foot: 'ft',
  inch: 'in',
};

/** Any UTF-16 units, lone surrogates and controls too. */
const anyText = fc
  .array(fc.integer({ min: 0, max: 0xffff }), { maxLength: 60 })
  .map((codes) => String.fromCharCode(...codes));

describe('unit factors', () => {
  // NIST SP 811 (2008) app. B and UCUM as run with GNU Units 2.22: unit-factors.csv names the source of each row.
  it.skipIf(absent)('agree with the published table to 1e-14', () => {
    let checked = 0;
    for (const row of rows('unit-factors.csv')) {
      const from = findUnit(NAMES[row.from!] ?? row.from!);
      const to = findUnit(NAMES[row.to!] ?? row.to!);
      if (from === undefined || to === undefined || /32 degF|60 degF/.test(row.from!)) continue;
      const expected = Number(row.factor);
      expect(convert(1, from, to) / expected, `${row.from} to ${row.to}`).toBeCloseTo(1, 13);
      checked++;
    }
    expect(checked).toBeGreaterThanOrEqual(29);
  });

  // temperature-vectors.csv: definition of the Fahrenheit scale (NIST SP 811), recomputed with exact rationals.
  it.skipIf(absent)('agree with the temperature vectors', () => {
    const vectors = rows('temperature-vectors.csv');
    expect(vectors.length).toBeGreaterThan(8);
    for (const row of vectors) {
      const f = Number(row.degF);
      expect(convert(f, 'degF', 'degC')).toBeCloseTo(Number(row.degC_exact), 9);
      expect(convert(f, 'degF', 'K')).toBeCloseTo(Number(row.kelvin_exact), 9);
      expect(convert(Number(row.kelvin_exact), 'K', 'degF')).toBeCloseTo(f, 8);
    }
  });

  it('is exact where the definition is', () => {
    expect(convert(-40, 'degF', 'degC')).toBe(-40);
    expect(convert(212, 'degF', 'degC')).toBe(100);
    expect(convert(32, 'degF', 'degC')).toBe(0);
    expect(convert(100, 'degC', 'degF')).toBe(212);
    expect(convert(1, 'mile', 'm')).toBe(1609.344);
    expect(convert(1, 'mph', 'km/h')).toBe(1.609344);
    expect(convert(90, 'km/h', 'm/s')).toBe(25);
    expect(convert(1500, 'ms', 's')).toBe(1.5);
    expect(convert(1, 'g', 'kg')).toBe(0.001);
    expect(convert(255, 'raw8', '%')).toBe(100);
    expect(convert(0.5, 'fraction', '%')).toBe(50);
    expect(convert(1.25, 'factor', '%')).toBe(25);
  });

  it('inverts phi and asks for the base of an air-fuel ratio', () => {
    expect(convert(1.25, 'phi', '1')).toBe(0.8);
    expect(convert(0.8, 'lambda', 'phi')).toBe(1.25);
    expect(convert(11.76, 'AFR', '1', { afrBase: 14.7 })).toBeCloseTo(0.8, 12);
    expect(() => convert(11.76, 'AFR', 'lambda')).toThrow(/base ratio/);
  });

  it('refuses other quantities with a clear text', () => {
    expect(() => convert(1, 'kPa', 'degC')).toThrow(UnitError);
    expect(() => convert(1, 'kPa', 'degC')).toThrow(/kPa \(pressure\).*degC \(temperature\)/);
    expect(() => convert(1, 'furlong', 'm')).toThrow(/unknown unit 'furlong'/);
    expect(() => convert(1, 'g', 'm/s2')).toThrow(/mass/);
  });

  it('goes there and back for every pair of units of a quantity', () => {
    const pairs = UNITS.flatMap((a) => UNITS.filter((b) => b.quantity === a.quantity).map((b) => [a, b] as const));
    fc.assert(
      fc.property(fc.constantFrom(...pairs), fc.double({ min: 0.01, max: 5000, noNaN: true }), ([a, b], x) => {
        const there = converter(a, b, { afrBase: 14.7 });
        const back = converter(b, a, { afrBase: 14.7 });
        // Offsets cost absolute digits, not relative ones.
        return Math.abs(back(there(x)) - x) < 1e-9 * Math.max(1, x);
      }),
      { numRuns: 3000 },
    );
    expect(converter('degF', 'K')(Number.NaN)).toBeNaN();
  });
});

describe('findUnit', () => {
  const spellings: Readonly<Record<string, string>> = {
    degC: '°C|degC|deg C|C|Celsius|℃|º C|Â°C|[°C]|( °C )|celsius|CELSIUS|degrees C',
    degF: '°F|F|degF|deg F|Fahrenheit|Â°F|℉',
    K: 'K|kelvin',
    'km/h': 'km/h|kph|kmh|KM/H|km/hr|Km/h',
    mph: 'MPH|mph|mi/h|miles per hour',
    'm/s': 'm/s|mps|M/S',
    'm/s2': 'm/s2|m/s²|m/s^2|m/s/s',
    rpm: 'rpm|RPM|1/min|U/min|min-1|min^-1|r/min|rev/min|tr/min',
    'N.m': 'Nm|N·m|N*m|N.m|N m|NM|nm|[Nm]',
    'lb-ft': 'lb-ft|ft-lb|lbft|ft lb|lb.ft|lbf·ft|FT-LBS',
    kPa: 'kPa|KPA|kpa',
    hPa: 'hPa|HPA',
    MPa: 'MPa|MPA',
    inHg: 'inHg|in Hg|in. Hg|"Hg',
    inH2O: 'inH2O|in H2O',
    psi: 'psi|PSI|lb/in2',
    mbar: 'mbar|mBar',
    '%': '%|percent|pct|[%]',
    lambda: 'λ|lambda|Lambda',
    '1': '1|-|[]||[-]|count',
    deg: '°|deg|degrees|°CA|degCA|° BTDC|°KW',
    'g/s': 'g/s|gm/s|g/sec|G/S',
    'lb/min': 'lb/min|lbs/min',
    'mg/stroke': 'mg/stroke|mg/str|mg/Hub|mg/stk',
    mA: 'mA|ma',
    mV: 'mV|MV',
    ms: 'ms|MS|msec',
    us: 'us|µs|μs',
    gn: 'G|gs',
    ohm: 'Ω|ohm|Ohms',
    raw8: '0-255|raw8',
    PS: 'PS|cv|ch',
    'cc/min': 'cc/min|ml/min|ccm/min',
  };
  it.each(Object.entries(spellings))('%s', (id, list) => {
    for (const spelling of list.split('|')) expect(findUnit(spelling)?.id, `'${spelling}'`).toBe(id);
  });

  it('marks gauge and absolute', () => {
    const marked: readonly (readonly [string, string, boolean])[] = [
      ['psig', 'psi', true],
      ['psi(g)', 'psi', true],
      ['psia', 'psi', false],
      ['barg', 'bar', true],
      ['bar abs', 'bar', false],
      ['bar(a)', 'bar', false],
      ['kPa abs', 'kPa', false],
      ['kPa gauge', 'kPa', true],
      ['mbar rel', 'mbar', true],
      ['hPa absolute', 'hPa', false],
      ['psi gage', 'psi', true],
    ];
    for (const [text, id, gauge] of marked) expect(findUnit(text), text).toMatchObject({ id, gauge });
    expect(findUnit('psi')).not.toHaveProperty('gauge');
  });

  it('settles two meanings by the quantity', () => {
    expect(findUnit('g')?.quantity).toBe('mass');
    expect(findUnit('g', 'acceleration')?.id).toBe('gn');
    expect(findUnits('g').map((unit) => unit.quantity)).toEqual(expect.arrayContaining(['mass', 'acceleration']));
  });

  it('does not know what is no unit, and never throws', () => {
    for (const text of ['blub', '__proto__', 'constructor', 'toString', 'km/h/s', 'degX', 'x'.repeat(1_000_000)]) {
      expect(findUnit(text), text.slice(0, 20)).toBeUndefined();
    }
    fc.assert(fc.property(anyText, (text) => void findUnits(text)));
  });

  it('has every id once, and finds each by its id', () => {
    expect(new Set(UNITS.map((unit) => unit.id)).size).toBe(UNITS.length);
    for (const unit of UNITS) expect(findUnit(unit.id)).toBe(unit);
  });
});

describe('parseQuantity', () => {
  it('reads text and objects', () => {
    expect(parseQuantity('120 degC')).toEqual({ value: 120, unit: 'degC' });
    expect(parseQuantity('3.2 L', 'volume')).toEqual({ value: 3.2, unit: 'L' });
    expect(parseQuantity('-40°F')).toEqual({ value: -40, unit: 'degF' });
    expect(parseQuantity('0.66 m2')).toEqual({ value: 0.66, unit: 'm2' });
    expect(parseQuantity('1.5e3 rpm')).toEqual({ value: 1500, unit: 'rpm' });
    expect(parseQuantity('8 g', 'acceleration')).toEqual({ value: 8, unit: 'gn' });
    expect(parseQuantity('22 psig')).toEqual({ value: 22, unit: 'psi', gauge: true });
    expect(parseQuantity({ value: 610, unit: 'N.m' })).toEqual({ value: 610, unit: 'N.m' });
    expect(parseQuantity(4)).toEqual({ value: 4, unit: '1' });
  });

  it('says what is wrong', () => {
    expect(() => parseQuantity('warm')).toThrow(/found 'warm', expected a number and a unit/);
    expect(() => parseQuantity('12 blub')).toThrow(/unknown unit 'blub'/);
    expect(() => parseQuantity('12 kPa', 'temperature')).toThrow(/pressure.*expected a unit of temperature/);
    expect(() => parseQuantity({ value: '12', unit: 'kPa' })).toThrow(UnitError);
    expect(() => parseQuantity({ value: Number.NaN })).toThrow(/finite/);
    expect(() => parseQuantity(null)).toThrow(/found null/);
  });
});
