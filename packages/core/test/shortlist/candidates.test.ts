import { readFileSync } from 'node:fs';
import { gunzipSync } from 'node:zlib';
import { beforeAll, describe, expect, test } from 'vitest';
import { readPrices } from '../../src/decision/prices.js';
import { assess } from '../../src/engine/assess.js';
import type { Assessment } from '../../src/engine/assessment.js';
import { readSheet } from '../../src/sheet/sheet.js';
import { type Shortlist, shortlistOf } from '../../src/shortlist/shortlist.js';
import type { SideFile } from '../../src/sidefiles/side-file.js';
import { readProfile } from '../../src/vehicle/profile.js';

const home = new URL('../../../../test-data/candidates/', import.meta.url);
const bytes = (path: string): Uint8Array => new Uint8Array(readFileSync(new URL(path, home)));
const text = (path: string): string => readFileSync(new URL(path, home), 'utf8');

function valid<T>(read: SideFile<T>): T {
  if (!read.ok) throw new Error(read.faults.map(({ message }) => message).join('; '));
  return read.value;
}

/** As somebody would who has the folder of one candidate. */
function assessed(name: string): Promise<Assessment> {
  return assess(
    [
      { name: 'drive.csv', source: new Uint8Array(gunzipSync(bytes(`${name}/drive.csv.gz`))) },
      { name: 'stored-values.csv', source: bytes(`${name}/stored-values.csv`) },
      { name: 'codes.csv', source: bytes(`${name}/codes.csv`) },
    ],
    {
      vehicle: valid(readProfile(text(`${name}/vehicle.yaml`), 'vehicle.yaml')),
      sheet: valid(readSheet(text(`${name}/sheet.yaml`), 'sheet.yaml')),
      prices: valid(readPrices(text('prices.yaml'), 'prices.yaml')),
    },
  );
}

/** What is true of the three stands in test-data/candidates/expected.json, made with them by scripts/candidates.ts. */
describe('three candidates', () => {
  const of: Record<string, Assessment> = {};
  let list: Shortlist;
  beforeAll(async () => {
    for (const name of ['prepared', 'honest', 'sound']) of[name] = await assessed(name);
    list = shortlistOf(Object.entries(of).map(([name, assessment]) => ({ name, assessment })));
  }, 120_000);

  const found = (name: string): string[] =>
    of[name]!.results.filter(({ outcome }) => outcome === 'finding')
      .map(({ rule }) => rule)
      .sort();
  const result = (name: string, rule: string) => of[name]!.results.find((each) => each.rule === rule)!;

  test('are ranked, and the one that was prepared is one to leave', () => {
    expect(list.candidates.map(({ name, action }) => [name, action])).toEqual([
      ['sound', 'buy'],
      ['honest', 'negotiate'],
      ['prepared', 'walk-away'],
    ]);
    // The first two may overlap by what is unproven of each; that the third is to be left may not.
    expect(list.candidates[1]!.next).toMatchObject({ settled: true });
    expect(list.order).not.toBe('open');
  });

  test('the sound one shows enough, and nothing is found', () => {
    expect(found('sound')).toEqual([]);
    expect(of.sound!.verdict).toMatchObject({ level: 'sound' });
    expect(of.sound!.decision.sum).toMatchObject({ low: 0, high: 0 });
    expect(result('sound', 'provenance.claims')).toMatchObject({
      outcome: 'clear',
      measures: { supported: { value: 4 }, contradicted: { value: 0 } },
    });
  });

  test('the honest one has what its seller said, and no doubt about the evidence', () => {
    expect(found('honest')).toEqual(['codes.stored', 'fuel.trim', 'usage.launches']);
    expect(result('honest', 'provenance.claims')).toMatchObject({ outcome: 'clear' });
    expect(result('honest', 'provenance.recording')).toMatchObject({ outcome: 'clear' });
    expect(result('honest', 'provenance.cold-start')).toMatchObject({ outcome: 'clear' });
    expect(of.honest!.decision.sum).toMatchObject({ low: 1350, high: 4100 });
  });

  test('the prepared one is found out in every way', () => {
    expect(found('prepared').filter((rule) => rule.startsWith('provenance.'))).toEqual([
      'provenance.claims',
      'provenance.cold-start',
      'provenance.distance',
      'provenance.recent-clear',
      'provenance.recording',
    ]);
    expect(of.prepared!.decision.reasons[0]).toMatch(/evidence cannot be trusted in 5 ways: the recording was altered/);
    expect(result('prepared', 'provenance.claims')).toMatchObject({
      outcome: 'finding',
      severity: 'repair',
      measures: { contradicted: { value: 5 } },
    });
    const { summary } = result('prepared', 'provenance.claims');
    expect(summary).toContain('118598 km read out of a control unit');
    expect(summary).toContain('Launches (said: never): the control unit counts 140 launches');
    expect(result('prepared', 'provenance.recording').summary).toMatch(/missing without a gap/);
  });
});
