import { describe, expect, it } from 'vitest';
import { overallRatio, parseTyre } from '../../src/vehicle/tyre.js';
import { hasValidation, sharedText, WHERE } from '../math/published.js';

// Tyre tables of the ETRTO kind as collected in validation/tyre.csv (its README names the sources).
describe.skipIf(!hasValidation)(`tyre sizes of the published table${WHERE}`, () => {
  const rows = hasValidation ? sharedText('validation/tyre.csv').trim().split(/\r?\n/).slice(1) : [];
  it.each(rows)('%s', (row) => {
    const [size, geometric, , circumference, , turns] = row.split(',');
    const tyre = parseTyre(size!)!;
    expect(tyre.diameter).toBeCloseTo(Number(geometric), 6);
    expect(tyre.circumference * 1000).toBeCloseTo(Number(circumference), 6);
    expect(1000 / tyre.circumference).toBeCloseTo(Number(turns), 3);
  });

  it('185/60R14 of the worked example: 0.5776 m', () => {
    const { examples } = { examples: sharedText('validation/physics-examples.json') };
    expect(examples).toContain('"tyre-185-60-14"');
    expect(parseTyre('185/60R14')!.diameter / 1000).toBeCloseTo(0.5776, 9);
  });
});

describe('parseTyre', () => {
  it('reads speed-rated and spaced sizes, refuses others', () => {
    expect(parseTyre('245/40 ZR19')).toEqual(parseTyre('245/40R19'));
    expect(parseTyre('P195')).toBeUndefined();
  });
});

describe('overallRatio', () => {
  it('is the engine speed at 1 km/h: 3.5 x 4 on 2 m turns 116.67 times a minute', () => {
    expect(overallRatio(3.5, 4, 2)).toBeCloseTo((14 * (1000 / 60)) / 2, 9);
  });
});
