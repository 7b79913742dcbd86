import { describe, expect, it } from 'vitest';
import type { Drive } from '../../../src/derived/recipe.js';
import type { Result } from '../../../src/engine/assessment.js';
import { knock } from '../../../src/rules/engine/knock.js';
import { car, runRule } from '../helpers.js';
import { cylinders, PERIOD, pullDrive, SIX, step } from './knock-drive.js';

function assess(drives: Drive | Drive[]): Result {
  return runRule(knock, drives);
}

function measure(result: Result, name: string): number | readonly number[] | undefined {
  return 'measures' in result ? result.measures?.[name]?.value : undefined;
}

function severity(result: Result): string {
  return result.outcome === 'finding' ? `${result.severity}` : result.outcome;
}

/** One retard of the whole engine: the limits on pulls alone, without the comparison of cylinders. */
const whole = (size: number, pulls: readonly number[], count = 3): Drive =>
  pullDrive({ pulls: count, retard: { 0: step(size, 2.5, pulls) } });

describe('engine.knock, events', () => {
  it('is clear on a clean engine whose retard is 0 all day, and takes the rate of its group', () => {
    const result = assess(pullDrive({ retard: cylinders(6) }));
    expect(severity(result)).toBe('clear');
    expect(measure(result, 'events')).toBe(0);
    expect(measure(result, 'cylinders')).toEqual([]);
    expect(measure(result, 'rate')).toBeCloseTo(20, 0);
    expect(result.outcome === 'clear' && result.confidence).toBeGreaterThan(0.8);
    expect(result.summary).toContain('3 pulls');
  });

  it('counts an event from exactly 2 deg, and not from a step below', () => {
    expect(measure(assess(whole(2, [1])), 'events')).toBe(1);
    expect(measure(assess(whole(1.9, [1])), 'events')).toBe(0);
  });

  it('counts an event that stands for 0.1 s, and not a shorter one', () => {
    const at = (rows: number): Drive =>
      pullDrive({
        rate: 100,
        retard: { 0: ({ pull, since }) => (pull === 1 && since > 2.995 && since < 2.995 + rows / 100 ? 2.5 : 0) },
      });
    expect(measure(assess(at(10)), 'events')).toBe(1);
    expect(measure(assess(at(9)), 'events')).toBe(0);
  });

  it('counts from a load fraction of 0.6 and from 1500 rpm', () => {
    const of = (share: number): unknown =>
      measure(assess(pullDrive({ share, retard: { 0: step(2.5, 3, [0]) } })), 'events');
    expect(of(0.6)).toBe(1);
    expect(of(0.59)).toBe(0);
    const slow = (rpm: number): unknown =>
      measure(
        assess(pullDrive({ retard: { 0: step(2.5, 3, [0]) }, signals: { engineSpeed: (t) => rpm + 0.001 * (t % 2) } })),
        'events',
      );
    expect(slow(1500)).toBe(1);
    expect(slow(1499)).toBe(0);
  });

  it('counts per cylinder and names the cylinders in ascending order', () => {
    const result = assess(pullDrive({ retard: cylinders(6, { 5: step(2.5, 2.5, [0, 2]), 3: step(2.8, 4, [1]) }) }));
    expect(measure(result, 'events')).toBe(3);
    expect(measure(result, 'cylinders')).toEqual([3, 5]);
    expect(measure(result, 'maxRetard')).toBeCloseTo(2.8, 6);
    expect('events' in result && result.events?.map((event) => event.cylinder)).toEqual([5, 3, 5]);
  });

  it('counts an event once when the whole engine and a cylinder both show it', () => {
    const own = step(2.5, 2.5, [0]);
    const result = assess(pullDrive({ retard: { ...cylinders(6, { 2: own }), 0: own } }));
    expect(measure(result, 'events')).toBe(1);
    expect(measure(result, 'cylinders')).toEqual([2]);
  });

  it('takes a new step in the tail for a new event, and the tail itself for none', () => {
    const tail = step(4, 2, [0], 0.2, 1);
    const again = ({ pull, since }: { pull: number; since: number }): number =>
      pull === 0 && since >= 3.5 ? Math.max(0, 4.9 - (since - 3.5)) : 0;
    expect(measure(assess(pullDrive({ retard: { 0: tail } })), 'events')).toBe(1);
    expect(measure(assess(pullDrive({ retard: { 0: (p) => Math.max(tail(p), again(p)) } })), 'events')).toBe(2);
  });
});

describe('engine.knock, limits', () => {
  // One tenth of a degree is the step of the recording: its standard uncertainty is 0.029 deg, so the 95 % bound of a
  // reading lies 0.05 deg below it. A reading on the limit is near, one step above is beyond.
  it('watch: 3 deg in the same cell in 2 pulls', () => {
    expect(severity(assess(whole(2.9, [0, 1])))).toBe('clear');
    const on = assess(whole(3, [0, 1]));
    expect(severity(on)).toBe('clear');
    expect(on.summary).toContain('near the limit');
    expect(severity(assess(whole(3.1, [0, 1])))).toBe('watch');
  });

  it('watch only when the pulls agree on the cell', () => {
    const apart = pullDrive({
      retard: { 0: (p) => Math.max(step(3.5, 2.5, [0], 0.2, 9)(p), step(3.5, 4.5, [1], 0.2, 9)(p)) },
    });
    expect(severity(assess(apart))).toBe('clear');
  });

  it('watch: one cylinder 3 deg beyond the mean of the others', () => {
    const at = (size: number): Result => assess(pullDrive({ retard: cylinders(6, { 4: step(size, 2.5, [1]) }) }));
    expect(severity(at(2.9))).toBe('clear');
    expect(severity(at(3))).toBe('clear');
    const over = at(3.1);
    expect(severity(over)).toBe('watch');
    expect(over.summary).toContain('Cylinder 4');
    expect('causes' in over && over.causes?.[0]).toContain('cylinder 4');
    // The others retard as well: 3.1 is no longer beyond them.
    const shared = cylinders(6, { 4: step(3.1, 2.5, [1]), 1: step(0.7, 2.5, [1]), 2: step(0.7, 2.5, [1]) });
    expect(severity(assess(pullDrive({ retard: shared })))).toBe('clear');
  });

  it('repair: 5 deg in 2 of at least 3 pulls', () => {
    expect(severity(assess(whole(4.9, [0, 2])))).toBe('watch');
    expect(severity(assess(whole(5, [0, 2])))).toBe('watch');
    expect(severity(assess(whole(5.1, [0, 2])))).toBe('repair');
    const two = assess(whole(5.1, [0, 1], 2));
    expect(severity(two)).toBe('watch');
    expect(two.summary).toContain('third pull');
    expect(severity(assess(whole(5.1, [1])))).toBe('clear');
  });

  it('stop: 8 deg in 2 pulls', () => {
    expect(severity(assess(whole(7.9, [0, 1])))).toBe('repair');
    expect(severity(assess(whole(8, [0, 1])))).toBe('repair');
    expect(severity(assess(whole(8.1, [0, 1])))).toBe('stop');
    expect(severity(assess(whole(8.1, [0, 1], 2)))).toBe('stop');
  });

  it('stop: 6 deg on all cylinders', () => {
    const all = (size: number, odd = size): Drive => {
      const own = cylinders(6);
      for (let c = 1; c <= 6; c++) own[c] = step(c === 6 ? odd : size, 3, [1]);
      return pullDrive({ retard: own });
    };
    expect(severity(assess(all(6)))).toBe('clear');
    expect(severity(assess(all(6.1)))).toBe('stop');
    expect(severity(assess(all(6.1, 5.9)))).toBe('clear');
    // Five of six cylinders are not all.
    const five = cylinders(5);
    for (let c = 1; c <= 5; c++) five[c] = step(6.5, 3, [1]);
    expect(severity(assess(pullDrive({ retard: five })))).not.toBe('stop');
  });

  it("shows limits of the profile as the user's", () => {
    const strict = car({ ...SIX, limits: { 'engine.knock': { watch: { value: 2.5, unit: 'deg' } } } });
    const own = assess(pullDrive({ retard: { 0: step(2.8, 2.5, [0, 1]) }, vehicle: strict }));
    expect(severity(own)).toBe('watch');
    expect('limits' in own && own.limits?.find((l) => l.name === 'watch')).toMatchObject({
      value: 2.5,
      source: 'profile',
    });
    expect('limits' in own && own.limits?.find((l) => l.name === 'repair')).toMatchObject({
      value: 5,
      source: 'common practice, no source',
    });
    expect(severity(assess(whole(2.8, [0, 1])))).toBe('clear');
    const coarse = car({ ...SIX, limits: { 'engine.knock': { event: { value: 3, unit: 'deg' } } } });
    expect(measure(assess(pullDrive({ retard: { 0: step(2.8, 2.5, [0]) }, vehicle: coarse })), 'events')).toBe(0);
  });
});

describe('engine.knock, what must not fool it', () => {
  it('tip-in', () => {
    const stamped = pullDrive({ pedalTime: 0.2, retard: { 0: step(6, 0.6, [0, 1, 2], 0.1, 2) } });
    const result = assess(stamped);
    expect(severity(result)).toBe('clear');
    expect(measure(result, 'events')).toBe(0);
    expect('notes' in result && result.notes?.join(' ')).toContain('3 steps not counted');
    // Begun in that second, but renewed beyond it: knock.
    expect(severity(assess(pullDrive({ pedalTime: 0.2, retard: { 0: step(6, 0.9, [0, 1, 2], 0.8, 2) } })))).toBe(
      'repair',
    );
    // A slow ramp back is still a ramp back.
    expect(severity(assess(pullDrive({ pedalTime: 0.2, retard: { 0: step(6, 0.9, [0, 1, 2], 0.25, 0.6) } })))).toBe(
      'clear',
    );
    // The same without a stamped pedal is knock, and so is what does not fade.
    expect(severity(assess(pullDrive({ pedalTime: 2, retard: { 0: step(6, 2.5, [0, 1, 2], 0.1, 2) } })))).toBe(
      'repair',
    );
    expect(severity(assess(pullDrive({ pedalTime: 0.2, retard: { 0: step(6, 0.6, [0, 1, 2], 9) } })))).toBe('repair');
  });

  it('but one cylinder far beyond all others is no tip-in, however the pedal went down', () => {
    const own = (all: number, one: number) => {
      const retard = cylinders(6);
      for (let c = 1; c <= 6; c++) retard[c] = step(c === 3 ? one : all, 0.6, [0, 1, 2], 0.1, 2);
      return severity(assess(pullDrive({ pedalTime: 0.2, retard })));
    };
    expect(own(0, 11)).toBe('stop');
    expect(own(3, 11)).toBe('stop');
    expect(own(6, 11)).toBe('clear');
    expect(own(0, 5.9)).toBe('clear');
  });

  it('but knock counts in a pull whose road speed does not follow the engine: no shift lasts so long', () => {
    const vehicleSpeed = (t: number): number => (t % PERIOD < 12 ? 60 + 5 * Math.sin(t / 3) : 100 + 0.2 * (t % PERIOD));
    const engineSpeed = (t: number): number => {
      const since = (t % PERIOD) - 12;
      return since < 0 || since > 6 ? 2000 : 2000 + 1125 * Math.min(4, since);
    };
    const retard = { 0: step(5.5, 1.5, [0, 1, 2], 0.5) };
    const drive = pullDrive({ retard, pedalTime: 0.05, signals: { vehicleSpeed, engineSpeed } });
    expect(runRule(knock, drive)).toMatchObject({ severity: 'repair', measures: { events: { value: 3 } } });
  });

  it('torque reduction in shifts', () => {
    const own = cylinders(6);
    for (let c = 1; c <= 6; c++) own[c] = step(9, 3, [0, 1, 2], 0.2, 12);
    const gear = (t: number): number => (t % 30 >= 15.1 ? 4 : 3);
    expect(severity(assess(pullDrive({ retard: own, signals: { gear } })))).toBe('clear');
    expect(severity(assess(pullDrive({ retard: own })))).toBe('stop');
  });

  it('traction control, by its flag or by wheels that run apart', () => {
    const own = { 0: step(9, 3, [0, 1, 2], 0.2, 12) };
    const active = (t: number): number => (t % 30 > 14.8 && t % 30 < 15.6 ? 1 : 0);
    expect(severity(assess(pullDrive({ retard: own, signals: { tractionControlActive: active } })))).toBe('clear');
    const wheel = (factor: number) => (t: number) => {
      const since = (t % 30) - 12;
      const v = (2000 + 700 * Math.min(6, Math.max(0, since))) / 50;
      return active(t) === 1 ? v * factor : v;
    };
    const wheels = {
      'wheelSpeed.frontLeft': wheel(1.3),
      'wheelSpeed.frontRight': wheel(1.3),
      'wheelSpeed.rearLeft': wheel(1),
      'wheelSpeed.rearRight': wheel(1),
    };
    expect(severity(assess(pullDrive({ retard: own, signals: wheels })))).toBe('clear');
    expect(severity(assess(pullDrive({ retard: own })))).toBe('stop');
  });

  it('one cylinder knocks while the driven wheels slip', () => {
    const slipping = (t: number): number =>
      ((t % 30 > 12 && t % 30 < 18 ? 1.12 : 1) * (2000 + 700 * Math.min(6, Math.max(0, (t % 30) - 12)))) / 50;
    const rolling = (t: number): number => (2000 + 700 * Math.min(6, Math.max(0, (t % 30) - 12))) / 50;
    const signals = {
      'wheelSpeed.frontLeft': rolling,
      'wheelSpeed.frontRight': rolling,
      'wheelSpeed.rearLeft': slipping,
      'wheelSpeed.rearRight': slipping,
    };
    const lone = assess(pullDrive({ retard: cylinders(6, { 3: step(6, 2.5, [0, 1, 2]) }), signals }));
    expect(severity(lone)).toBe('repair');
    expect(measure(lone, 'cylinders')).toEqual([3]);
    const all = cylinders(6);
    for (let c = 1; c <= 6; c++) all[c] = step(6, 2.5, [0, 1, 2]);
    expect(severity(assess(pullDrive({ retard: all, signals })))).toBe('clear');
  });

  it('names an intervention first when all cylinders step alike and nothing tells of traction control', () => {
    const own = cylinders(6);
    for (let c = 1; c <= 6; c++) own[c] = step(4, 2.5, [0, 1]);
    const blind = assess(pullDrive({ retard: own }));
    expect('causes' in blind && blind.causes?.[0]).toContain('intervention');
    const told = assess(pullDrive({ retard: own, signals: { tractionControlActive: () => 0 } }));
    expect(severity(told)).toBe('watch');
    expect('causes' in told && told.causes?.[0]).toContain('octane');
    expect(told.outcome === 'finding' && blind.outcome === 'finding' && blind.confidence < told.confidence).toBe(true);
  });

  it('a learned offset, which is reported', () => {
    const result = assess(pullDrive({ retard: cylinders(6, { 1: () => 3.5, 2: () => 3.5 }) }));
    expect(severity(result)).toBe('clear');
    expect(measure(result, 'learnedOffset')).toBeCloseTo(3.5, 6);
    const both = assess(pullDrive({ retard: { 0: (p) => 3 + step(3.4, 2.5, [0, 1])(p) } }));
    expect(severity(both)).toBe('watch');
    expect(measure(both, 'maxRetard')).toBeCloseTo(3.4, 6);
  });

  it('mechanical noise: retard at low load is no event, and is named first among causes', () => {
    const noise = ({ t, pull }: { t: number; pull: number }): number => (pull < 0 && t % 5 < 0.4 ? 3.5 : 0);
    expect(measure(assess(pullDrive({ retard: { 0: noise } })), 'events')).toBe(0);
    const result = assess(pullDrive({ retard: { 0: (p) => Math.max(noise(p), step(3.6, 2.5, [0, 1])(p)) } }));
    expect(severity(result)).toBe('watch');
    expect('causes' in result && result.causes?.[0]).toContain('noise');
  });

  it('hot charge: a cause, and less confidence', () => {
    const retard = { 0: step(3.6, 2.5, [0, 1]) };
    const cool = assess(pullDrive({ retard }));
    const hot = assess(pullDrive({ retard, signals: { chargeAirTemperature: (t) => 66 + Math.sin(t) } }));
    expect(severity(hot)).toBe('watch');
    expect('causes' in hot && hot.causes?.[0]).toContain('hot charge air');
    expect('causes' in cool && cool.causes?.join(' ')).not.toContain('hot charge air');
    expect(hot.outcome === 'finding' && cool.outcome === 'finding' && hot.confidence < cool.confidence).toBe(true);
  });

  it('poor fuel: first cause when all cylinders knock alike; never an ignition advance', () => {
    const own = cylinders(6);
    for (let c = 1; c <= 6; c++) own[c] = step(3.5 + c / 10, 2.5, [0, 1, 2]);
    const result = assess(pullDrive({ retard: own }));
    expect('causes' in result && result.causes?.[0]).toContain('octane');
    expect('advice' in result && result.advice?.join(' ')).toContain('no ignition is to be added');
  });
});

describe('engine.knock, what is not shown', () => {
  it('needs two pulls to be clear', () => {
    const one = assess(pullDrive({ pulls: 1, retard: cylinders(6) }));
    expect(one.outcome).toBe('unproven');
    expect(one.outcome === 'unproven' && one.missing.conditions[0]).toContain('1 seen');
    const drives = [
      pullDrive({ pulls: 1, retard: cylinders(6) }),
      pullDrive({ pulls: 1, retard: cylinders(6), input: 1 }),
    ];
    expect(severity(assess(drives))).toBe('clear');
  });

  it('asks for a third pull when one of two knocks', () => {
    expect(assess(whole(6, [0], 2)).outcome).toBe('unproven');
  });

  it('adds up the pulls of several recordings', () => {
    const of = (input: number): Drive => pullDrive({ pulls: 1, retard: { 0: step(3.6, 2.5, [0]) }, input });
    const result = assess([of(0), of(1)]);
    expect(severity(result)).toBe('watch');
    expect('events' in result && result.events?.map((event) => event.input)).toEqual([0, 1]);
  });

  it('below 5 Hz the count is a lower bound, below 2 Hz silence proves nothing', () => {
    const slow = assess(pullDrive({ rate: 4, retard: { 0: step(3.6, 2.5, [0, 1]) } }));
    expect(severity(slow)).toBe('watch');
    expect(measure(slow, 'eventsAtLeast')).toBe(2);
    expect('notes' in slow && slow.notes?.join(' ')).toContain('lower bound');
    const fast = assess(whole(3.6, [0, 1]));
    expect(measure(fast, 'eventsAtLeast')).toBeUndefined();
    const slowest = assess(pullDrive({ rate: 1, retard: cylinders(6) }));
    expect(slowest.outcome === 'unproven' && slowest.missing.conditions).toEqual(['knockRetard at >= 5 Hz']);
  });

  it('tells a slow reading from an engine that seldom knocks', () => {
    // Held for two seconds each, in a log of 20 rows a second.
    const moving = ({ t }: { t: number }): number => 0.5 + 0.4 * Math.sin(Math.floor(t / 2) * 7);
    const slow = assess(pullDrive({ retard: { 0: moving } }));
    expect(measure(slow, 'rate')).toBeCloseTo(0.5, 2);
    expect(slow.outcome === 'unproven' && slow.missing.conditions).toEqual(['knockRetard at >= 5 Hz']);
    // A ramp back in steps of 0.75 deg tells of the ramp.
    const ramp = ({ pull, since }: { pull: number; since: number }): number =>
      pull >= 0 && since > 2 ? Math.max(0, 2.25 - 0.75 * Math.floor((since - 2) * 1.3)) : 0;
    expect(measure(assess(pullDrive({ retard: { 0: ramp } })), 'rate')).toBeCloseTo(20, 0);
    // Square events of odd lengths: the rate of engine speed stands in.
    const seldom = ({ t }: { t: number }): number =>
      [3, 14, 31, 44, 47, 63, 72].some((at) => t >= at && t < at + (at % 5) / 4) ? 1 : 0;
    expect(measure(assess(pullDrive({ retard: { 0: seldom } })), 'rate')).toBeCloseTo(20, 0);
  });

  it('works from calculated load, from the pedal alone, and from the load alone', () => {
    const retard = { 0: step(3.6, 3, [0, 1]) };
    const load = (t: number): number => (t % 30 > 12.8 && t % 30 < 18 ? 96 : 25 + Math.sin(t));
    const calculated = assess(pullDrive({ retard, signals: { engineTorque: undefined, engineLoad: load } }));
    expect(severity(calculated)).toBe('watch');
    const pedal = assess(pullDrive({ retard, signals: { engineTorque: undefined } }));
    expect(severity(pedal)).toBe('watch');
    expect('notes' in pedal && pedal.notes?.join(' ')).toContain('full-pedal pulls');
    const torque = assess(pullDrive({ retard, signals: { pedalPosition: undefined } }));
    expect(severity(torque)).toBe('watch');
    const neither = assess(pullDrive({ retard, signals: { engineTorque: undefined, pedalPosition: undefined } }));
    expect(neither.outcome === 'unproven' && neither.missing.channels).toContain('engineLoad');
  });

  it('counts the same in a log that holds each value for ten rows', () => {
    const retard = cylinders(6, { 3: step(4, 2.5, [0, 1, 2]) });
    const held = pullDrive({ rate: 100, retard });
    const values = held.channel('knockRetard.cylinder3')!.values;
    for (let i = 0; i < values.length; i++) values[i] = values[i - (i % 10)]!;
    const result = assess(held);
    expect(measure(result, 'events')).toBe(3);
    expect(measure(result, 'cylinders')).toEqual([3]);
  });
});
