import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { assess } from '../../../src/engine/assess.js';
import { readProfile } from '../../../src/vehicle/profile.js';

// Every claim that a recording answers, against the sound candidate of test-data: its drive, stored values and codes.
const home = new URL('../../../../../test-data/candidates/sound/', import.meta.url);
const read = (name: string) => ({ name, source: new Uint8Array(readFileSync(new URL(name, home))) });
const RULES = [
  'provenance.claims',
  'provenance.distance',
  'provenance.recent-clear',
  'engine.power',
  'fuel.injector-size',
  'usage.launches',
  'usage.severity',
  'usage.over-rev',
];

interface Told {
  readonly claim: string;
  readonly state: string;
  readonly because: string;
}

async function told(claims: string): Promise<(claim: string) => Told> {
  const own = readFileSync(new URL('vehicle.yaml', home), 'utf8').replace(/^claims:.*$/m, `claims: { ${claims} }`);
  const profile = readProfile(own, 'vehicle.yaml');
  if (!profile.ok) throw new Error(profile.faults[0]!.message);
  const { results } = await assess([read('drive.csv.gz'), read('stored-values.csv'), read('codes.csv')], {
    vehicle: profile.value,
    only: RULES,
  });
  const result = results.find(({ rule }) => rule === 'provenance.claims')!;
  const details = ('details' in result ? result.details : {}) as { readonly claims: readonly Told[] };
  return (claim) => details.claims.find((each) => each.claim === claim)!;
}

// What the simulated car has: about 410 kW, 126 kPa of boost, large injectors, 2 launches, 38 160 km.
describe('a claim of the seller', () => {
  test('that the evidence bears is supported, with its numbers', async () => {
    const of = await told('power: 400 kW, boost: 120 kPa, launches: 2, distance: 38000 km, catalysts: original');
    expect(of('power')).toMatchObject({
      state: 'supported',
      because: expect.stringMatching(/\d{3} kW.*\d{3} to \d{3}/),
    });
    expect(of('boost')).toMatchObject({
      state: 'supported',
      because: expect.stringMatching(/^12\d kPa held in \d full-load pulls/),
    });
    expect(of('launches')).toMatchObject({ state: 'supported', because: 'the control unit counts 2' });
    expect(of('distance')).toMatchObject({ state: 'supported', because: '38160 km read out' });
    expect(of('catalysts')).toMatchObject({ state: 'supported', because: expect.stringMatching(/^1 test/) });
  });

  test('that the evidence does not bear is contradicted, with its numbers', async () => {
    const of = await told('power: 700 kW, boost: 250 kPa, injectors: 550 cc/min, launches: never, distance: 30000 km');
    expect(of('power')).toMatchObject({ state: 'contradicted', because: expect.stringMatching(/\d{3} kW/) });
    expect(of('boost')).toMatchObject({ state: 'contradicted', because: expect.stringMatching(/50 % of the claim/) });
    expect(of('injectors')).toMatchObject({ state: 'contradicted', because: expect.stringMatching(/\d{4} cm³\/min/) });
    expect(of('launches')).toMatchObject({
      state: 'contradicted',
      because: expect.stringMatching(/counts 2 launches/),
    });
    expect(of('distance')).toMatchObject({ state: 'contradicted', because: expect.stringMatching(/8160 km more/) });
  });

  test('that a recording cannot show is not shown', async () => {
    const of = await told('tracked: never, boost: 150 kPa');
    expect(of('tracked')).toMatchObject({ state: 'not shown' });
    // 126 of 150 kPa: under the share that supports it, over the one that contradicts it.
    expect(of('boost')).toMatchObject({ state: 'not shown' });
  });
});
