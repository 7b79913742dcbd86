import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { findChannel } from '../../src/channels/index.js';
import { assess } from '../../src/engine/assess.js';
import type { Assessment } from '../../src/engine/assessment.js';
import { loggingRate, ratedChannels } from '../../src/plan/channel-rates.js';
import { shortestCover } from '../../src/plan/cover.js';
import { PHASES } from '../../src/plan/phases.js';
import { type Plan, planFor, unplanned } from '../../src/plan/plan.js';
import { READ_OUTS } from '../../src/plan/read-outs.js';
import { SETTLED_BY, settledBy } from '../../src/plan/settled-by.js';
import { planDocument } from '../../src/report/plan-document.js';
import { renderText } from '../../src/report/text.js';
import { RULES } from '../../src/rules/index.js';
import { UNKNOWN_VEHICLE, type Vehicle } from '../../src/vehicle/vehicle.js';

const named = (plan: Plan) => plan.phases.map(({ id }) => id);
const demo = new Uint8Array(readFileSync(fileURLToPath(new URL('../../../../test-data/demo.csv', import.meta.url))));
/** An assessment that left just these rules unproven. */
const leaving = (...rules: string[]): Assessment => ({
  schema: 'telltale/assessment@1',
  vehicle: { id: 'a' },
  inputs: [],
  verdict: { level: 'unproven', coverage: 0, index: { low: 0, high: 100 }, reasons: [] },
  systems: [],
  results: RULES.map(({ id }) =>
    rules.includes(id)
      ? {
          rule: id,
          summary: 'Not seen.',
          outcome: 'unproven',
          missing: { channels: ['barometricPressure'], conditions: [] },
          proves: '',
        }
      : { rule: id, summary: '', outcome: 'not-applicable' },
  ),
  decision: { action: 'record-more', reasons: [], questions: [] },
  cautions: [],
});

describe('what the plan is made of', () => {
  it('every rule is settled by phases or by a read-out', () => expect(unplanned()).toEqual([]));

  it('names phases and channels that exist', () => {
    const phases = PHASES.map(({ id }) => id);
    expect(new Set(phases).size).toBe(phases.length);
    for (const sets of Object.values(SETTLED_BY)) for (const id of sets.flat()) expect(phases).toContain(id);
    expect(ratedChannels().filter((id) => findChannel(id) === undefined)).toEqual([]);
  });

  it('uses every phase and every read-out', () => {
    const used = new Set(Object.values(SETTLED_BY).flat(2));
    expect(PHASES.filter(({ id }) => !used.has(id))).toEqual([]);
    expect(READ_OUTS.every(({ proves, items }) => proves.length > 0 && items.length > 0)).toBe(true);
  });

  it('logs what shakes faster than what warms up', () => {
    expect(loggingRate('wheelSpeed.frontLeft')).toBe(30);
    expect(loggingRate('coolantTemperature')).toBe(1);
  });
});

describe('the shortest cover', () => {
  const [a, b, c] = PHASES;

  it('settles everything that the phases can settle, and drops what is needless', () => {
    const all = Object.keys(SETTLED_BY);
    const cover = shortestCover(PHASES, all);
    const possible = settledBy(new Set(PHASES.map(({ id }) => id)));
    expect(settledBy(new Set(cover.map(({ id }) => id)))).toEqual(possible);
    for (const one of cover) {
      const without = new Set(cover.filter((other) => other !== one).map(({ id }) => id));
      expect(settledBy(without).length, one.id).toBeLessThan(possible.length);
    }
  });

  it('takes phases together where a rule needs both, the shorter way where there are two', () => {
    expect(shortestCover(PHASES, ['engine.start-quality']).map(({ id }) => id)).toEqual(['cold-start', 'hot-restart']);
    // Cruise and hot idle take 10 minutes, cold start and warm-up 18.
    expect(shortestCover(PHASES, ['engine.misfire']).map(({ id }) => id)).toEqual(['straight-cruise', 'hot-idle']);
  });

  it('is empty when nothing can be settled', () => {
    expect(shortestCover(PHASES, [])).toEqual([]);
    expect(shortestCover([a!, b!, c!], ['engine.knock'])).toEqual([]);
    expect(shortestCover(PHASES, ['transmission.clutch-adaptation'])).toEqual([]);
  });
});

describe('the plan', () => {
  it('without an assessment holds every phase in driving order, cold before warm', () => {
    const plan = planFor(UNKNOWN_VEHICLE);
    expect(named(plan)).toEqual(PHASES.map(({ id }) => id));
    expect(plan.presentation.join(' ')).toMatch(/cold/i);
    expect(plan.first!.duration.value).toBeLessThan(plan.duration.value);
  });

  it('leaves out what makes no sense for the car', () => {
    const manual: Vehicle = { ...UNKNOWN_VEHICLE, transmission: { kind: 'manual' } };
    const plan = planFor(manual);
    expect(named(plan)).not.toContain('selector');
    expect(plan.open.map(({ rule }) => rule)).not.toContain('transmission.selection');
    const front: Vehicle = { ...UNKNOWN_VEHICLE, driveline: { driven: 'front' } };
    expect(named(planFor(front))).not.toContain('slippery-pull-away');
  });

  it('from an assessment holds only what is unproven, by the shortest set, and what was missing', () => {
    const plan = planFor(UNKNOWN_VEHICLE, leaving('engine.idle'));
    expect(plan.open).toEqual([{ rule: 'engine.idle', question: expect.any(String) as string, why: 'Not seen.' }]);
    expect(named(plan)).toEqual(['hot-idle']);
    expect(plan.phases[0]!.proves).toEqual(['engine.idle']);
    expect(plan.channels.map(({ id }) => id)).toEqual(expect.arrayContaining(['engineSpeed', 'barometricPressure']));
    expect(plan.readOuts).toEqual([]);
    expect(plan.presentation.join(' ')).not.toMatch(/cold/i);
  });

  it('reads out what only a read-out shows', () => {
    const plan = planFor(UNKNOWN_VEHICLE, leaving('transmission.clutch-adaptation'));
    expect(named(plan)).toEqual([]);
    expect(plan.readOuts.map(({ id }) => id)).toEqual(['gearbox-memory']);
  });

  it('shows cautions for the closed course only where one is needed, and always those of the site', () => {
    const text = (plan: Plan) => renderText(planDocument(plan), { width: 80, paint: (words: string) => words });
    const still = text(planFor(UNKNOWN_VEHICLE, leaving('engine.idle')));
    expect(still).not.toMatch(/closed course or a dynamometer, within the law, with/);
    expect(still).toMatch(/owner’s consent/);
    expect(text(planFor(UNKNOWN_VEHICLE, leaving('engine.knock')))).toMatch(/closed course/);
    expect(text(planFor(UNKNOWN_VEHICLE, leaving()))).toMatch(/Nothing is left to show/);
  });

  it('shows the caution for all-wheel drive on rollers where it applies, or may', () => {
    const warns = (driveline: Vehicle['driveline']) =>
      JSON.stringify(planFor({ ...UNKNOWN_VEHICLE, driveline })).includes('single-axle rollers');
    expect(warns({ driven: 'all' })).toBe(true);
    expect(warns({})).toBe(true);
    expect(warns({ driven: 'rear' })).toBe(false);
    expect(warns({ driven: 'front' })).toBe(false);
    // Restraint, fan and tyres are for every car on rollers.
    expect(JSON.stringify(planFor({ ...UNKNOWN_VEHICLE, driveline: { driven: 'rear' } }))).toContain('restraint, fan');
  });

  it('names a dynamometer only where one shows the same', () => {
    const text = renderText(planDocument(planFor(UNKNOWN_VEHICLE)), { width: 120, paint: (words: string) => words });
    expect(text).toMatch(/Full-load pulls {2}8 min, closed course or dynamometer only/);
    expect(text).toMatch(/Long corners {2}4 min, closed course only/);
    expect(text).toMatch(/loose or wet surface {2}3 min, closed course only/);
  });

  it('asks only for what the profile does not say yet', () => {
    const asked = (vehicle: Vehicle) => planFor(vehicle).also.map(({ rule }) => rule);
    expect(asked(UNKNOWN_VEHICLE)).toEqual(
      expect.arrayContaining(['usage.over-rev', 'transmission.ratio', 'engine.power']),
    );
    const known = asked({
      ...UNKNOWN_VEHICLE,
      engine: { revLimit: 7000, displacement: 3.2 },
      transmission: { gears: [4, 2, 1.5] },
      claims: { power: 300 },
    });
    expect(known).not.toContain('usage.over-rev');
    expect(known).not.toContain('transmission.ratio');
    expect(known).not.toContain('provenance.claims');
    // Mass is still missing.
    expect(known).toContain('engine.power');
  });

  it('of the demo drive names no rule that was answered', async () => {
    const assessment = await assess([{ name: 'demo.csv', source: demo }]);
    const answered = assessment.results
      .filter(({ outcome }) => outcome === 'clear' || outcome === 'finding')
      .map(({ rule }) => rule);
    const plan = planFor(UNKNOWN_VEHICLE, assessment);
    const mentioned = [...plan.open, ...plan.also].map(({ rule }) => rule);
    mentioned.push(...plan.phases.flatMap(({ proves }) => proves), ...plan.channels.flatMap((each) => each.for));
    expect(answered.length).toBeGreaterThan(5);
    expect(answered.filter((rule) => mentioned.includes(rule))).toEqual([]);
  });
});

it('asks no logger for what is read out of control-unit memory once', () => {
  const ids = planFor(UNKNOWN_VEHICLE).channels.map(({ id }) => id);
  expect(ids.length).toBeGreaterThan(50);
  for (const id of ids) expect(findChannel(id)?.definition.system, id).not.toBe('stored');
  for (const id of ['launchCount', 'codeCount', 'ignitionCycles', 'engineStartCount', 'warmUpsSinceClear'])
    expect(ids).not.toContain(id);
});
