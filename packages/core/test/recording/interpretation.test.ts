import { describe, expect, it } from 'vitest';
import { buildRecording } from '../../src/recording/build.js';
import { matchOverrides } from '../../src/recording/column-map.js';
import { mixtureBase } from '../../src/recording/mixture.js';
import { keyOnPressure, pressureReference } from '../../src/recording/pressure-reference.js';
import { signConvention } from '../../src/recording/sign.js';
import { nearest } from '../../src/recording/suggestion.js';
import { clock, noise, rawTable, sampled } from './helpers.js';

const time = clock(300, 10);

describe('sign of knock retard', () => {
  it('is read from the side of zero that is used', () => {
    expect(signConvention([Float64Array.of(0, 0, 3, 2.25, 0)])).toBe('positive');
    expect(signConvention([Float64Array.of(0, 0, -3, -2.25, 0), Float64Array.of(0, 0, 0)])).toBe('negative');
    expect(signConvention([Float64Array.of(0, Number.NaN)])).toBe('none');
    expect(signConvention([])).toBe('none');
  });

  it('is open when both sides are used in earnest, even in different columns', () => {
    expect(signConvention([Float64Array.of(3, 0, -3)])).toBe('mixed');
    expect(signConvention([Float64Array.of(3, 2, 1), Float64Array.of(-3, -2, -1)])).toBe('mixed');
  });
});

describe('an air ratio, which has no unit', () => {
  const speed = { label: 'Engine speed', unit: 'rpm', values: sampled(time, (t) => 2000 + 300 * Math.sin(t)) };
  const read = (label: string, level: number) => {
    const values = sampled(time, (t) => level * (1 + 0.02 * Math.sin(t)));
    const built = buildRecording(rawTable(time, [speed, { label, values }]));
    if (!built.ok) throw new Error(built.fault.message);
    const [channel] = [...built.recording.channels.values()].filter(({ id }) => id !== 'engineSpeed');
    return { codes: built.recording.problems.map(({ code }) => code), channel };
  };

  it.each(['Lambda', 'LAMBDA_CMD', 'Lambda Bank 1', 'Equivalence ratio'])(
    '"%s" without one leaves no doubt',
    (label) => {
      const { codes, channel } = read(label, 1);
      expect(codes).toEqual([]);
      expect(channel?.certainty).not.toBe('inferred');
    },
  );

  it('an air-fuel ratio, and a heading of air and fuel over a lambda, do', () => {
    expect(read('Lambda', 14.7).channel?.certainty).toBe('inferred');
    expect(read('AFR', 1).codes).toContain('unit-assumed');
  });
});

describe('base of an air-fuel ratio', () => {
  const random = noise(6);
  const engineSpeed = sampled(time, () => 2200);

  it.each([14.7, 14.1, 9.8])('is confirmed from closed loop: %f', (base) => {
    const ratio = sampled(time, (t) => (t % 60 < 5 ? base * 0.82 : base * (1 + 0.01 * random())));
    const engineLoad = sampled(time, (t) => (t % 60 < 5 ? 95 : 30));
    const found = mixtureBase(ratio, { engineSpeed, engineLoad });
    expect(found.base).toBe(base);
    expect(found.confirmed).toBe(true);
  });

  it('stays at the usual one, unconfirmed, at full load only, when restless or with no closed loop', () => {
    const rich = sampled(time, () => 11.8);
    expect(mixtureBase(rich, { engineSpeed, engineLoad: sampled(time, () => 95) })).toMatchObject({
      base: 14.7,
      confirmed: false,
    });
    const restless = sampled(time, () => 14.7 + 4 * random());
    expect(mixtureBase(restless, { engineSpeed }).confirmed).toBe(false);
    const between = sampled(time, () => 13.2);
    expect(mixtureBase(between, { engineSpeed })).toMatchObject({ base: 14.7, confirmed: false });
    expect(mixtureBase(new Float64Array(0), {}).confirmed).toBe(false);
  });
});

describe('reference of an intake pressure', () => {
  const engineSpeed = sampled(time, (t) => (t < 5 ? 0 : t < 60 ? 750 : 2500));

  it('is absolute when it reads the atmosphere at key-on or a vacuum at idle', () => {
    const pressure = sampled(time, (t) => (t < 5 ? 100 : t < 60 ? 31 : 140));
    expect(pressureReference(pressure, engineSpeed).reference).toBe('absolute');
    expect(pressureReference(pressure.subarray(50), engineSpeed.subarray(50)).reference).toBe('absolute');
  });

  it('is gauge when it reads zero at key-on, negative at idle, or zero at idle with the vacuum cut off', () => {
    const pressure = sampled(time, (t) => (t < 5 ? 0.4 : t < 60 ? -66 : 60));
    expect(pressureReference(pressure, engineSpeed).reference).toBe('gauge');
    const cut = pressure.map((p) => Math.max(0, p));
    expect(pressureReference(cut.subarray(50), engineSpeed.subarray(50)).reference).toBe('gauge');
  });

  it('is open when only load was driven', () => {
    const pressure = sampled(time, () => 50);
    const pulling = sampled(time, () => 3000);
    expect(pressureReference(pressure, pulling).reference).toBeUndefined();
    expect(pressureReference(pressure, undefined).reference).toBeUndefined();
  });

  it('without idle is told by a pull that never leaves the atmosphere and above', () => {
    const pull = sampled(time, (t) => 101 + t / 3);
    const relative = pull.map((p) => p - 101);
    expect(pressureReference(pull, undefined).reference).toBe('absolute');
    expect(pressureReference(relative, undefined).reference).toBe('gauge');
  });

  it('gives the barometer from key-on rows', () => {
    const pressure = sampled(time, (t) => (t < 5 ? 97.4 : 31));
    expect(keyOnPressure(pressure, engineSpeed)).toBe(97.4);
    expect(keyOnPressure(pressure, undefined)).toBeNaN();
  });
});

describe('map file entries', () => {
  const table = rawTable(
    [0, 1],
    [
      { label: 'Alpha temp', values: [1, 2] },
      { label: 'Beta', values: [1, 2] },
    ],
  );

  it('match by label without case, and by position before label', () => {
    const { overrides, problems } = matchOverrides(table.columns, {
      columns: { '#3': { unit: 'V' }, 'ALPHA TEMP ': { channel: null }, beta: { unit: 'A' } },
    });
    expect(overrides.get(1)).toEqual({ channel: null });
    expect(overrides.get(2)).toEqual({ unit: 'V' });
    expect(problems).toEqual([]);
  });

  it('that match nothing are problems with the nearest label', () => {
    const { problems } = matchOverrides(table.columns, { columns: { 'Alfa temp': {}, '#9': {} } });
    expect(problems.map((p) => p.code)).toEqual(['map-unmatched', 'map-unmatched']);
    expect(problems[0]!.message).toContain('did you mean "Alpha temp"');
  });

  it('offer nothing when nothing is near', () => {
    expect(nearest('zzzzzz', ['Alpha temp'])).toBeUndefined();
  });
});
