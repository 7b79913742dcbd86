import { describe, expect, it } from 'vitest';
import { AIR_AGREEMENT, COMPUTED_AIR } from '../../src/derived/computed-air.js';
import { FILLING } from '../../src/derived/filling.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { speedDensity } from '../../src/physics/air-mass.js';
import { driveOf, gaussian } from './helpers.js';
import { simulatedDrive } from './simulated.js';

/** Off-boost truth of a simulated drive: filling of the air that really went in, by the temperature that was logged. */
export async function errorsOf(seed: number): Promise<{ off: number[]; boosted: number[] }> {
  const { drive, sim } = await simulatedDrive({ seed });
  const filling = drive.derive(FILLING);
  const computed = drive.derive(COMPUTED_AIR);
  if (isRefusal(filling) || isRefusal(computed)) return { off: [], boosted: [] };
  const signal = (id: string) => sim.signals.get(id)!;
  const [rpm, map, load, cut] = ['engineSpeed', 'manifoldPressure', 'engineLoadAbsolute', 'fuelSystemStatus'].map(
    signal,
  );
  const temperature = signal(filling.temperature);
  const { displacement } = sim.car.engine;
  const off: number[] = [];
  const boosted: number[] = [];
  for (let i = 200; i < sim.samples; i += 25) {
    const n = rpm![i]!;
    const p = map![i]!;
    if (n < filling.speeds[0] || n > filling.speeds[1] || p < 25) continue;
    // Steady: no manifold filling.
    if (Math.abs(map![i - 35]! - p) > 0.02 * p || Math.abs(rpm![i - 35]! - n) > 0.02 * n || cut![i]! === 0) continue;
    const flow = (load![i]! / 100) * 1.184 * displacement * (n / 120);
    if (flow < 2) continue;
    const truth = flow / speedDensity(p, temperature[i]!, 1, displacement, n);
    const barometer = signal('barometricPressure')[i]!;
    (p < 0.98 * barometer ? off : boosted).push(filling.fillingAt(n, p) / truth - 1);
  }
  return { off, boosted };
}

const size = (values: readonly number[], q: number): number =>
  values.map(Math.abs).sort((a, b) => a - b)[Math.floor(q * (values.length - 1))]!;

describe('filling learned from simulated drives against the air that really went in', () => {
  it.each([3, 4, 6, 11, 17, 23])('seed %i: within 3 % off boost', async (seed) => {
    const { off, boosted } = await errorsOf(seed);
    if (off.length === 0) return;
    expect(size(off, 0.5)).toBeLessThan(0.015);
    expect(size(off, 0.95)).toBeLessThan(0.03);
    if (boosted.length > 20) expect(size(boosted, 0.5)).toBeLessThan(0.08);
  });
});

/** A made car: filling falls with exhaust over manifold pressure; the meter takes part of the air at high flow away or loses it. */
function made(
  meter: (flow: number, p: number) => number,
  temperature: (p: number) => number = () => 30,
  pipe?: (p: number) => number,
) {
  const noise = gaussian(7);
  const rows = 4000;
  const n = Array.from({ length: rows }, (_, i) => 1000 + 500 * (Math.floor(i / 100) % 9));
  const p = Array.from({ length: rows }, (_, i) => [35, 55, 75, 90, 160, 210][Math.floor(i / 37) % 6]!);
  const flow = p.map((each, i) => speedDensity(each, temperature(each), 0.95 - 0.08 * (101 / each), 2, n[i]!));
  return driveOf({
    hz: 10,
    channels: {
      engineSpeed: n.map((each) => each + 2 * noise()),
      manifoldPressure: p.map((each) => each + 0.3 * noise()),
      intakeAirTemperature: p.map((each) => temperature(each) + 0.1 * noise()),
      barometricPressure: p.map(() => 101),
      ...(pipe === undefined ? {} : { boostPressure: p.map((each) => pipe(each) + 0.2 * noise()) }),
      airMassFlow: flow.map((each, i) => meter(each, p[i]!) * (1 + 0.005 * noise())),
    },
    vehicle: { engine: { displacement: 2, cylinders: 4 } },
  });
}

describe('measured against computed air', () => {
  const middle = (drive: ReturnType<typeof made>, boosted: boolean): number => {
    const found = drive.derive(AIR_AGREEMENT);
    if (isRefusal(found)) throw new Error(found.reason);
    const p = drive.channel('manifoldPressure')!.values;
    const values = [...found.ratio].filter((x, i) => !Number.isNaN(x) && (boosted ? p[i]! > 150 : p[i]! < 95));
    return values.sort((a, b) => a - b)[values.length >> 1]!;
  };

  it('is 1 everywhere where nothing escapes, and shows what escapes under boost, or a meter that reads low', () => {
    const hot = (p: number) => 30 + 0.2 * Math.max(0, p - 101);
    expect(
      Math.abs(
        middle(
          made((flow) => flow, hot),
          false,
        ) - 1,
      ),
    ).toBeLessThan(0.01);
    expect(
      Math.abs(
        middle(
          made((flow) => flow, hot),
          true,
        ) - 1,
      ),
    ).toBeLessThan(0.025);
    const leaking = made((flow, p) => flow * (p > 101 ? 1.08 : 1), hot);
    expect(Math.abs(middle(leaking, true) - 1.08)).toBeLessThan(0.03);
    const low = made((flow, p) => flow * (p > 101 ? 0.9 : 1), hot);
    expect(Math.abs(middle(low, true) - 0.9)).toBeLessThan(0.03);
  });

  it('knows a temperature that sits before the compressor, and is less sure for it', () => {
    const blind = made((flow) => flow).derive(COMPUTED_AIR);
    const seeing = made(
      (flow) => flow,
      (p) => 30 + 0.2 * Math.max(0, p - 101),
    ).derive(COMPUTED_AIR);
    if (isRefusal(blind) || isRefusal(seeing)) throw new Error('refused');
    expect([blind.blind, seeing.blind]).toEqual([true, false]);
    const boosted = 37 * 5 + 20;
    expect(blind.uAt(boosted)).toBeGreaterThan(seeing.uAt(boosted) + 0.005);
    expect(seeing.perStroke![boosted]! * 4 * 1000).toBeGreaterThan(0);
  });

  // Throttled to 90 kPa with 125 kPa in the pipe: a leak takes its share there too, and must not be learned as filling.
  it.each([
    ['leaves out throttled rows with a pipe under pressure', (p: number) => (p < 80 ? 99 : p < 95 ? 125 : p + 3), 0.01],
    ['does not take a manifold pressure by another name for that of the pipe', (p: number) => p, 0.06],
  ])('%s', (_, pipe, within) => {
    const leaking = (flow: number, p: number) => flow * (p > 80 ? 1.15 : 1);
    const found = made(leaking, () => 30, pipe).derive(FILLING);
    if (isRefusal(found)) throw new Error(found.reason);
    expect(Math.abs(found.fillingAt(2500, 75) / (0.95 - 0.08 * (101 / 75)) - 1)).toBeLessThan(within);
    expect(found.cells).toBeGreaterThanOrEqual(18);
    if (within === 0.01)
      expect(Math.abs(found.fillingAt(2500, 90) / (0.95 - 0.08 * (101 / 90)) - 1)).toBeLessThan(0.02);
  });

  it('says what is missing', () => {
    const { channels } = { channels: { engineSpeed: [1000, 1100], manifoldPressure: [40, 41] } };
    const found = driveOf({ hz: 10, channels }).derive(FILLING);
    expect(isRefusal(found) && found.missing.channels).toEqual(['airMassFlow']);
    const short = driveOf({
      hz: 10,
      channels: { ...channels, airMassFlow: [3, 4], intakeAirTemperature: [20, 21] },
    }).derive(FILLING);
    expect(isRefusal(short) && short.missing.conditions[0]).toContain('steady driving off boost');
  });
});
