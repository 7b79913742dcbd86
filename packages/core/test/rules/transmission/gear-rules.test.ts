import { describe, expect, it } from 'vitest';
import type { Measure } from '../../../src/rules/rule.js';
import { gearCoverage } from '../../../src/rules/transmission/gear-coverage.js';
import { ratio } from '../../../src/rules/transmission/ratio.js';
import { shiftQuality } from '../../../src/rules/transmission/shift-quality.js';
import { car, driveOf, type VehiclePatch } from '../helpers.js';
import { type GearDrive, gearDrive, type Told, tell } from './gears.js';

const eventsOf = (told: Told) => told.events ?? [];
const GEARS = [4, 2.4, 1.6, 1.2, 0.95, 0.78];
/** 3.6 on a 245/40R19 of 2.0648 m: 60 / 2.0648 x 3.6 / 3.6 ... = rpm per km/h of ratio 1. */
const SCALE = (3.6 * 1000) / 60 / 2.0649;
const RATIOS = GEARS.map((g) => g * SCALE);

function vehicle(patch: VehiclePatch = {}) {
  return car({
    transmission: { kind: 'dual-clutch', gears: GEARS, finalDrive: 3.6 },
    driveline: { driven: 'all', tyreFront: '245/40R19', tyreRear: '245/40R19' },
    ...patch,
  });
}

function drive(spec: Partial<GearDrive>, patch: VehiclePatch = {}, leave: readonly string[] = []) {
  const d = gearDrive({ hz: 25, ratios: RATIOS, laps: 4, ...spec });
  const channels = {
    engineSpeed: d.n,
    vehicleSpeed: d.v,
    gear: d.gear,
    selector: d.v.map(() => 3),
    pedalPosition: d.pedal,
    coolantTemperature: d.v.map((_, i) => 90 + (i % 2)),
  };
  return driveOf(
    d.time,
    Object.fromEntries(Object.entries(channels).filter(([id]) => !leave.includes(id))),
    vehicle(patch),
  );
}

describe('transmission.ratio', () => {
  const wrong = (off: number) => ({ ratios: RATIOS.map((r, k) => (k === 2 ? r * (1 + off) : r)) });

  it('is clear when the steps are those of the profile, and tells each ratio', () => {
    const result = tell(ratio, drive({}));
    expect(result).toMatchObject({ outcome: 'clear', measures: { gears: { value: 6 } } });
    RATIOS.forEach((value, g) => {
      const measured = result.measures![`ratio.gear${g + 1}`]!.value as number;
      expect(Math.abs(measured / value - 1)).toBeLessThan(0.005);
    });
  });

  it('lets one per cent pass with its uncertainty, and finds a gear that is 4 % off', () => {
    expect(tell(ratio, drive(wrong(0.01))).outcome).toBe('clear');
    expect(tell(ratio, drive(wrong(0.04)))).toMatchObject({ outcome: 'finding', severity: 'watch' });
  });

  it('leaves a step open that is likely off, but not surely', () => {
    const result = tell(ratio, drive(wrong(0.024)));
    expect(result).toMatchObject({ outcome: 'unproven' });
    expect(result.summary).toContain('beyond the limit of 1 %, but not surely');
    expect(result.summary).toContain('95 % bound');
  });

  it('says where both gears of a step that is off were held, what was measured there and what the profile says', () => {
    const events = eventsOf(tell(ratio, drive(wrong(0.04))));
    // Gear 3 is off: the steps below and above it, with two gears each.
    expect(events.map(({ what }) => what)).toEqual([
      'gear 2 of step 2 to 3',
      'gear 3 of step 2 to 3',
      'gear 3 of step 3 to 4',
      'gear 4 of step 3 to 4',
    ]);
    const d = gearDrive({ hz: 25, ratios: wrong(0.04).ratios, laps: 4 });
    for (const event of events) {
      const gear = Number(event.what!.toString().split(' ')[1]);
      const inside = d.gear.filter((_, i) => d.time[i]! >= event.from && d.time[i]! <= event.to);
      expect(inside.filter((g) => g === gear).length).toBeGreaterThan(0.97 * inside.length);
      expect(event.to - event.from).toBeGreaterThan(3);
      const [measured, profile] = [event.ratio, event.byProfile].map((each) => (each as Measure).value as number);
      expect(measured! / profile!).toBeCloseTo(gear === 3 ? 1.04 : 1, 2);
      expect(event).toMatchObject({ limit: { value: 1, unit: '%' }, severity: 'watch' });
      expect((event.otherSteps as Measure).value).toBeLessThan(0.5);
    }
  });

  it('judges by the limit of the profile and says so', () => {
    const limits = { 'transmission.ratio': { watch: { value: 6, unit: '%' } } };
    const result = tell(ratio, drive(wrong(0.04), { limits }));
    expect(result.outcome).toBe('clear');
    expect(result.limits).toContainEqual(expect.objectContaining({ name: 'watch', value: 6, source: 'profile' }));
  });

  it('asks about tyre and final drive when all gears are off alike, without a level', () => {
    const result = tell(ratio, drive({ ratios: RATIOS.map((r) => r * 1.1) }));
    expect(result.outcome).toBe('clear');
    expect(result.notes?.join(' ')).toMatch(/tyres/);
    expect(result.measures!.overall!.value as number).toBeCloseTo(10, 0);
  });

  it('counts no ratio as a gear that the profile does not have: a slip that lasts looks like one more', () => {
    // Sixth gear slips by 12 % for good in the last stretch of each lap: a seventh heap above it.
    const heaps = [...RATIOS.slice(0, 5), RATIOS[5]! * 1.12, RATIOS[5]!];
    const result = tell(ratio, drive({ ratios: heaps }, {}, ['gear']));
    expect(result.measures!.gears!.value).toBe(6);
    expect(result.summary).toMatch(/^6 gears driven/);
    expect(result.notes?.join(' ')).toMatch(/none of the 6 gears of the profile/);
  });

  it('works without a gear column, and without a profile tells the ratios as unproven', () => {
    expect(tell(ratio, drive({}, {}, ['gear'])).outcome).toBe('clear');
    const bare = tell(ratio, drive({}, { transmission: {} }));
    expect(bare.outcome).toBe('unproven');
    expect(bare.measures!.gears!.value).toBe(6);
    expect(bare.missing?.conditions.join()).toMatch(/transmission\.gears/);
  });

  it('says nothing of a gear that was driven under load only: its clutch may slip there', () => {
    const vehicleWith = {
      transmission: { kind: 'dual-clutch', gears: GEARS, finalDrive: 3.6 },
      engine: { ratedTorque: 400 },
    };
    const loaded = (only: boolean) => {
      const d = gearDrive({ hz: 25, ratios: wrong(0.04).ratios, laps: 4 });
      return driveOf(
        d.time,
        {
          engineSpeed: d.n,
          vehicleSpeed: d.v,
          gear: d.gear,
          engineTorque: d.gear.map((g, i) => (g === 3 && only ? 300 : 60 + (i % 3))),
        },
        vehicle(vehicleWith as VehiclePatch),
      );
    };
    expect(tell(ratio, loaded(false)).outcome).toBe('finding');
    expect(tell(ratio, loaded(true)).outcome).not.toBe('finding');
  });

  it('names the rate that it needs when two seconds between samples leave too little of each gear', () => {
    const slow = tell(ratio, drive({ hz: 0.5, laps: 1 }, {}, ['gear']));
    expect(slow.outcome).toBe('unproven');
    expect(slow.missing?.conditions.join()).toMatch(/>= 2 Hz/);
  });

  it('leaves a converter without turbine speed open', () => {
    const converter = { transmission: { kind: 'converter', gears: GEARS, finalDrive: 3.6 } } as const;
    expect(tell(ratio, drive(wrong(0.04), converter)).outcome).toBe('unproven');
  });
});

describe('transmission.shift-quality', () => {
  it('is clear for quick shifts and tells their duration', () => {
    const result = tell(shiftQuality, drive({}));
    expect(result.outcome).toBe('clear');
    expect(Math.abs((result.measures!.duration!.value as number) - 0.16)).toBeLessThan(0.05);
  });

  it.each([
    [120, undefined],
    [200, 'watch'],
    [370, 'watch'],
    [460, 'repair'],
  ])('flare of %i rpm in one gear: %s', (rpm, severity) => {
    const result = tell(shiftQuality, drive({ flare: (g) => (g === 2 ? rpm : 0) }));
    expect(result.severity).toBe(severity);
    if (severity !== undefined) expect(result.summary).toMatch(/2 to 3/);
  });

  it('finds shifts of one pair that drag, when it happens twice, not once', () => {
    const slow = (times: number) => (g: number, lap: number) => (g === 3 && lap < times ? 0.6 : 0.16);
    expect(tell(shiftQuality, drive({ shift: slow(1) })).outcome).toBe('clear');
    expect(tell(shiftQuality, drive({ shift: slow(3) }))).toMatchObject({ outcome: 'finding', severity: 'watch' });
  });

  it('finds a dual clutch that always takes longer than 0.6 s; a converter may take 1.2 s', () => {
    expect(tell(shiftQuality, drive({ shift: () => 0.9 })).outcome).toBe('finding');
    const converter = { transmission: { kind: 'converter', gears: GEARS } } as const;
    expect(tell(shiftQuality, drive({ shift: () => 0.9 }, converter)).outcome).toBe('clear');
  });

  it('needs 20 Hz: below, only gross faults show', () => {
    const slow = tell(shiftQuality, drive({ hz: 4, flare: () => 200 }));
    expect(slow.outcome).toBe('unproven');
    expect(slow.missing?.conditions.join()).toMatch(/20 Hz/);
    expect(tell(shiftQuality, drive({ hz: 12, flare: () => 250 })).outcome).toBe('unproven');
    expect(tell(shiftQuality, drive({ hz: 12, flare: () => 900 })).severity).toBe('repair');
  });

  it('takes the limit of the profile', () => {
    const limits = { 'transmission.shift-quality': { watch: { value: 300, unit: 'rpm' } } };
    expect(tell(shiftQuality, drive({ flare: () => 200 }, { limits })).outcome).toBe('clear');
  });

  it('makes no sense for a manual gearbox', () => {
    expect(tell(shiftQuality, drive({}, { transmission: { kind: 'manual' } })).outcome).toBe('not-applicable');
  });
});

describe('transmission.gear-coverage', () => {
  it('is clear when every gear was used', () => {
    expect(tell(gearCoverage, drive({})).outcome).toBe('clear');
  });

  it('finds one lost gear after three chances, not after two', () => {
    expect(tell(gearCoverage, drive({ lost: [3], laps: 2 })).outcome).toBe('unproven');
    const result = tell(gearCoverage, drive({ lost: [3] }));
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch', measures: { missing: { value: [3] } } });
    // Each lap the third gear is passed by on the way from second to fourth.
    const events = eventsOf(result);
    expect(events.length).toBeGreaterThanOrEqual(3);
    for (const event of events) {
      expect(event).toMatchObject({ what: 'gear 3 passed by', severity: 'watch' });
      expect(event.to - event.from).toBeGreaterThanOrEqual(9.9);
      expect(event.to - event.from).toBeLessThan(40);
    }
  });

  it('tells of the highest gear when it was due, what was used and how fast the engine would have turned in it', () => {
    const events = eventsOf(tell(gearCoverage, drive({ lost: [6] })));
    expect(events.length).toBeGreaterThanOrEqual(3);
    for (const event of events) {
      expect(event).toMatchObject({ what: 'gear 6 due, not taken', limit: { value: 1800, unit: 'rpm' } });
      expect((event.engineSpeedInIt as Measure).value).toBeGreaterThanOrEqual(1800);
      expect(event.used).toMatch(/gear 5|gears \d to 5/);
    }
  });

  it('counts no chance where a slow log may have missed a gear that was passed through', () => {
    // Fourth gear is held for 1.4 s only, which a log of one row in 1.5 s does not show.
    const row = (t: number): number => {
      const lap = t % 40;
      return lap < 15 ? 3 : lap < 16.4 ? 4 : lap < 30 ? 5 : 6;
    };
    const at = (hz: number, missed: boolean) => {
      const time = Float64Array.from({ length: 200 * hz }, (_, i) => i / hz);
      const gear = time.map((t) => (missed && row(t) === 4 ? 5 : row(t)));
      return driveOf(
        time,
        {
          engineSpeed: time.map((t) => 1700 + 30 * Math.sin(t)),
          vehicleSpeed: time.map((t, i) => (1700 + 30 * Math.sin(t)) / RATIOS[gear[i]! - 1]!),
          gear,
          selector: time.map(() => 3),
          pedalPosition: time.map((t) => (t < 2 ? 0 : t > 198 ? 100 : 20)),
          coolantTemperature: time.map((_, i) => 90 + (i % 2)),
        },
        vehicle(),
      );
    };
    expect((tell(gearCoverage, at(4, true)).measures!.missing!.value as number[]).includes(4)).toBe(true);
    expect(tell(gearCoverage, at(4, true)).severity).toBe('watch');
    expect(tell(gearCoverage, at(4, false)).measures!.missing!.value).not.toContain(4);
    expect(tell(gearCoverage, at(1 / 1.5, true)).severity).toBeUndefined();
  });

  it('says stop for half a gearbox and for one that is held in a gear', () => {
    expect(tell(gearCoverage, drive({ lost: [2, 4, 6], laps: 5 })).severity).toBe('stop');
    expect(tell(gearCoverage, drive({ lost: [1, 3, 5], laps: 5 })).severity).toBe('stop');
  });

  it('does not call a gearbox half that was only seen kicking down from one gear to the next but one', () => {
    // Motorway in sixth gear, kick-downs to fourth: no odd gear had a chance at light load.
    const time = Float64Array.from({ length: 2000 }, (_, i) => i / 10);
    const kicked = (t: number) => t % 50 > 42;
    const gear = time.map((t) => (kicked(t) ? 4 : 6));
    const speed = time.map((t) => 120 + 10 * Math.sin(t / 20));
    const signals = {
      engineSpeed: time.map((_t, i) => speed[i]! * RATIOS[gear[i]! - 1]!),
      vehicleSpeed: speed,
      gear,
      selector: time.map(() => 3),
      pedalPosition: time.map((t) => (kicked(t) ? 95 : 20)),
      coolantTemperature: time.map((_t, i) => 90 + (i % 2)),
    };
    const result = tell(gearCoverage, driveOf(time, signals, vehicle()));
    expect(result.measures!.gears!.value).toEqual([4, 6]);
    expect(result.outcome).toBe('unproven');
  });

  it('counts a change up on a still foot although a kick-down follows it', () => {
    // Every 20 s: at rest, third gear, up to fifth on a light foot, kick-down to third, back up.
    const time = Float64Array.from({ length: 2000 }, (_, i) => i / 10);
    const at = (t: number) => t % 20;
    const kicked = (t: number) => at(t) >= 11 && at(t) < 13;
    const gear = time.map((t) => (at(t) < 9 || kicked(t) ? 3 : at(t) < 17 ? 5 : 6));
    const speed = time.map((t) => (at(t) < 5 ? 0 : 45));
    const signals = {
      engineSpeed: time.map((_t, i) => Math.max(800, speed[i]! * RATIOS[gear[i]! - 1]!)),
      vehicleSpeed: speed,
      gear,
      selector: time.map(() => 3),
      pedalPosition: time.map((t) => (at(t) < 5 ? 0 : kicked(t) ? 95 : 20)),
      coolantTemperature: time.map((_t, i) => 90 + (i % 2)),
    };
    const result = tell(gearCoverage, driveOf(time, signals, vehicle()));
    expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(result.summary).toMatch(/^Gear 4 /);
  });

  it('gives no chance in manual mode or cold, and none to a manual gearbox', () => {
    const d = gearDrive({ hz: 25, ratios: RATIOS, laps: 4, lost: [3] });
    const signals = { engineSpeed: d.n, vehicleSpeed: d.v, gear: d.gear, pedalPosition: d.pedal };
    const warm = { coolantTemperature: d.v.map((_, i) => 90 + (i % 2)) };
    const inManual = driveOf(
      d.time,
      { ...signals, ...warm, selector: d.v.map((_, i) => (i === 0 ? 3 : 5)) },
      vehicle(),
    );
    expect(tell(gearCoverage, inManual).outcome).toBe('unproven');
    const cold = driveOf(d.time, { ...signals, coolantTemperature: d.v.map((_, i) => 30 + (i % 2)) }, vehicle());
    expect(tell(gearCoverage, cold).outcome).toBe('unproven');
    const manual = { transmission: { kind: 'manual', gears: GEARS } } as const;
    expect(tell(gearCoverage, drive({ lost: [3] }, manual)).outcome).toBe('unproven');
  });

  it('names the profile when the number of gears is not known', () => {
    const bare = tell(gearCoverage, drive({}, { transmission: {} }));
    expect(bare.outcome).toBe('unproven');
    expect(bare.missing?.conditions.join()).toMatch(/transmission\.gears/);
  });
});
