import { describe, expect, it } from 'vitest';
import type { RuleEvent } from '../../../src/rules/rule.js';
import { shiftQuality } from '../../../src/rules/transmission/shift-quality.js';
import { car, driveOf } from '../helpers.js';
import { type GearDrive, gearDrive, tell } from './gears.js';

const GEARS = [4, 2.4, 1.6, 1.2, 0.95, 0.78];
const RATIOS = GEARS.map((g) => (g * 3.6 * 1000) / 60 / 2.0649);

interface Foot {
  /** Share of the flare at which the foot goes down, and by how much (% of travel). */
  readonly at: number;
  readonly by: number;
}

function judged(
  spec: Partial<GearDrive>,
  kind: 'dual-clutch' | 'converter',
  foot?: Foot,
  turbine = false,
  revLimit?: number,
) {
  const d = gearDrive({ hz: 25, ratios: RATIOS, laps: 4, ...spec });
  const over = d.n.map((n, i) => (d.gear[i]! >= 1 && d.v[i]! > 0 ? n - d.v[i]! * RATIOS[d.gear[i]! - 1]! : 0));
  const peak = Math.max(...over);
  const pedal = d.pedal.slice();
  if (foot !== undefined)
    for (let i = 0; i < pedal.length; i++) if (pedal[i] === 25 && over[i]! > foot.at * peak) pedal[i] = 25 + foot.by;
  const signals = {
    engineSpeed: turbine ? d.n.map((n) => n + 40) : d.n,
    ...(turbine ? { inputShaftSpeed: d.n } : {}),
    vehicleSpeed: d.v,
    gear: d.gear,
    selector: d.v.map(() => 3),
    pedalPosition: pedal,
    coolantTemperature: d.v.map((_, i) => 90 + (i % 2)),
  };
  return driveOf(
    d.time,
    signals,
    car({
      transmission: { kind, gears: GEARS, finalDrive: 3.6 },
      ...(revLimit === undefined ? {} : { engine: { revLimit } }),
      driveline: { driven: 'all', tyreFront: '245/40R19', tyreRear: '245/40R19' },
    }),
  );
}

/** A flare of triangular form that stands in one sample only, once for each height (rpm) out of second gear. */
function spiked(...heights: readonly number[]) {
  const d = gearDrive({ hz: 25, ratios: RATIOS, laps: 4 });
  const n = d.n.slice();
  const left = [...heights];
  for (let i = 1; i < n.length; i++) {
    const last =
      Math.abs(n[i]! / d.v[i]! / RATIOS[1]! - 1) < 1e-9 && Math.abs(n[i + 1]! / d.v[i + 1]! / RATIOS[1]! - 1) > 0.01;
    if (last && d.pedal[i] === 25) n[i] = n[i]! + (left.shift() ?? 0);
  }
  return driveOf(
    d.time,
    {
      engineSpeed: n,
      vehicleSpeed: d.v,
      pedalPosition: d.pedal,
      coolantTemperature: d.v.map((_, i) => 90 + (i % 2)),
    },
    car({ transmission: { kind: 'dual-clutch', gears: GEARS, finalDrive: 3.6 } }),
  );
}

describe('transmission.shift-quality and a flare of one sample', () => {
  it('takes one for a spike, two out of the same gear for a flare', () => {
    expect(tell(shiftQuality, spiked(300)).outcome).toBe('clear');
    expect(tell(shiftQuality, spiked(300, 300)).severity).toBe('watch');
  });

  it('takes half as much out of the same gear for the same flare, a tenth for none', () => {
    expect(tell(shiftQuality, spiked(240, 150)).severity).toBe('watch');
    expect(tell(shiftQuality, spiked(240, 24)).outcome).toBe('clear');
  });
});

describe('transmission.shift-quality and a ratio that the shaft only passes by', () => {
  /** A downshift from fourth in which the engine climbs past third, stays near second for a moment, and falls into third. */
  function overshot(stay: number) {
    const d = gearDrive({ hz: 25, ratios: RATIOS, laps: 4 });
    const n = d.n.slice();
    const begin = n.findIndex((x, i) => Math.abs(x / d.v[i]! / RATIOS[3]! - 1) < 1e-9);
    const leaves = begin + 25 + 25 * stay;
    for (let i = begin + 25; i < leaves; i++) n[i] = d.v[i]! * RATIOS[1]!;
    for (let i = 0; i < 8; i++) n[leaves + i] = d.v[leaves + i]! * RATIOS[1]! + 40 * (i + 1);
    for (let i = leaves + 8; i < begin + 75; i++) n[i] = d.v[i]! * RATIOS[2]!;
    return driveOf(
      d.time,
      {
        engineSpeed: n,
        vehicleSpeed: d.v,
        pedalPosition: d.pedal,
        coolantTemperature: d.v.map((_, i) => 90 + (i % 2)),
      },
      car({ transmission: { kind: 'dual-clutch', gears: GEARS, finalDrive: 3.6 } }),
    );
  }

  it('is no gear that the engine runs over out of; held for longer it is', () => {
    expect(tell(shiftQuality, overshot(0.36)).outcome).toBe('clear');
    expect(tell(shiftQuality, overshot(1)).severity).toBe('watch');
  });
});

function events(result: unknown): readonly RuleEvent[] {
  return (result as { events: readonly RuleEvent[] }).events;
}

describe('transmission.shift-quality and the foot', () => {
  const flare = (g: number): number => (g === 2 ? 500 : 0);

  it('counts a flare after which the foot goes down: that answers it', () => {
    expect(tell(shiftQuality, judged({ flare }, 'dual-clutch', { at: 0.8, by: 25 })).severity).toBe('repair');
  });

  it('does not count a flare that the foot may have caused', () => {
    expect(tell(shiftQuality, judged({ flare }, 'dual-clutch', { at: 0.05, by: 25 })).outcome).toBe('clear');
  });
});

describe('transmission.shift-quality and like shifts', () => {
  /** Two laps with a pedal of 25 %, in which the shifts out of second are slow, and two with 38 %. */
  function split(slow: number) {
    const d = gearDrive({ hz: 25, ratios: RATIOS, laps: 4, shift: (g, lap) => (g === 2 && lap < 2 ? slow : 0.16) });
    let lap = -1;
    const pedal = d.pedal.map((p, i) => {
      if (d.v[i] === 0 && (i === 0 || d.v[i - 1]! > 0)) lap++;
      return p === 25 && lap >= 2 ? 38 : p;
    });
    return driveOf(
      d.time,
      {
        engineSpeed: d.n,
        vehicleSpeed: d.v,
        pedalPosition: pedal,
        coolantTemperature: d.v.map((_, i) => 90 + (i % 2)),
      },
      car({ transmission: { kind: 'dual-clutch', gears: GEARS, finalDrive: 3.6 } }),
    );
  }

  it('are those with about the same pedal, on either side of any border', () => {
    expect(tell(shiftQuality, split(0.55)).severity).toBe('watch');
    expect(tell(shiftQuality, split(0.25)).outcome).toBe('clear');
  });
});

describe('transmission.shift-quality, what must not fool it', () => {
  const slow = (g: number, lap: number): number => (g === 2 && lap < 2 ? 0.6 : 0.16);

  it('a skipped gear takes longer', () => {
    expect(tell(shiftQuality, judged({ shift: slow }, 'dual-clutch')).severity).toBe('watch');
    expect(tell(shiftQuality, judged({ shift: slow, lost: [3] }, 'dual-clutch')).outcome).toBe('clear');
    expect(tell(shiftQuality, judged({ flare: (g) => (g === 2 ? 500 : 0), lost: [3] }, 'dual-clutch')).outcome).toBe(
      'clear',
    );
  });

  it('the limiter holds the engine back: shifts close to it are not judged', () => {
    // Shifts come at 2600 rpm.
    expect(tell(shiftQuality, judged({ shift: slow }, 'dual-clutch', undefined, false, 2800)).outcome).toBe('unproven');
    expect(tell(shiftQuality, judged({ shift: slow }, 'dual-clutch', undefined, false, 2900)).severity).toBe('watch');
  });

  it('another mode shifts quicker throughout', () => {
    const modes = (_: number, lap: number): number => (lap < 3 ? 0.2 : 0.12);
    expect(tell(shiftQuality, judged({ shift: modes, laps: 6 }, 'dual-clutch')).outcome).toBe('clear');
  });

  it('the engine blips in a downshift: it runs over the new ratio, and no upshift flares', () => {
    const d = gearDrive({ hz: 25, ratios: RATIOS, laps: 4 });
    const n = d.n.slice();
    // In the longest hold of the highest gear: one gear down for two seconds, 400 rpm over at its end, and up again.
    const [low, high] = [RATIOS[4]!, RATIOS[5]!];
    let since = 0;
    for (let i = 0; i < n.length; i++) {
      since = d.pedal[i] === 20 ? since + 1 : 0;
      if (since < 100 || since > 160) continue;
      const share = Math.min(1, (since - 100) / 5);
      const blip = since > 103 && since < 110 ? 400 : 0;
      n[i] = d.v[i]! * (since < 155 ? high + share * (low - high) : low + ((since - 155) / 5) * (high - low)) + blip;
    }
    const signals = {
      engineSpeed: n,
      vehicleSpeed: d.v,
      pedalPosition: d.pedal,
      coolantTemperature: d.v.map((_, i) => 90 + (i % 2)),
    };
    const result = tell(
      shiftQuality,
      driveOf(d.time, signals, car({ transmission: { kind: 'dual-clutch', gears: GEARS, finalDrive: 3.6 } })),
    );
    expect(result.outcome).toBe('clear');
    expect(result.measures!.flare!.value).toBeLessThan(60);
    expect(result.measures!.shifts!.value).toBeGreaterThan(24);
  });
});

describe('transmission.shift-quality behind a converter', () => {
  const shift = (g: number): number => (g === 3 ? 0.6 : 0.16);

  it('judges a slow shift by turbine speed as in any gearbox, by engine speed from 0.8 s only', () => {
    expect(tell(shiftQuality, judged({ shift }, 'converter', undefined, true)).severity).toBe('watch');
    expect(tell(shiftQuality, judged({ shift }, 'converter')).outcome).toBe('clear');
  });
});

describe('transmission.shift-quality evidence', () => {
  it('says of a flare when, which pair, how far, what is usual for this car and which limit', () => {
    const flare = (g: number, lap: number): number => (g === 2 && lap === 1 ? 500 : 20);
    const found = events(tell(shiftQuality, judged({ flare }, 'dual-clutch')));
    expect(found).toHaveLength(1);
    const [event] = found;
    expect(event).toMatchObject({
      what: 'engine runs over',
      pair: '2-3',
      severity: 'repair',
      limit: { value: 400, unit: 'rpm' },
    });
    expect(event!.to - event!.from).toBeGreaterThan(0.2);
    expect(Math.abs((event!.flare as { value: number }).value - 500)).toBeLessThan(40);
    expect((event!.usualFlare as { value: number }).value).toBeLessThan(40);
  });

  it('says of a slow shift what is usual, up to where it is normal, and how long it took', () => {
    const shift = (g: number, lap: number): number => (g === 3 && lap < 3 ? 0.6 : 0.16);
    const found = events(tell(shiftQuality, judged({ shift }, 'dual-clutch')));
    expect(found).toHaveLength(3);
    for (const event of found) {
      expect(event).toMatchObject({ what: 'slow', pair: '3-4', kind: 'up, power on' });
      const [duration, normal, usual] = ['duration', 'normalUpTo', 'usualDuration'].map(
        (k) => (event[k] as { value: number }).value,
      );
      expect(usual).toBeCloseTo(0.16, 1);
      expect(normal).toBeCloseTo(Math.max(2 * usual!, usual! + 0.15), 1);
      expect(duration).toBeCloseTo(0.6, 1);
      expect(event.limit).toEqual({ value: normal, unit: 's' });
    }
  });
});
