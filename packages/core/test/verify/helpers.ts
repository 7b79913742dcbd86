import { refuse } from '../../src/derived/recipe.js';
import type { PullTrace, TraceSignal } from '../../src/verify/pull.js';

const NOTHING = refuse('not recorded', {});

/** A pull from 2300 to 6500 rpm in six seconds at 20 rows a second; `signals` as functions of seconds and rpm. */
export function pullOf(
  parts: Partial<Omit<PullTrace, 'signals' | 'conditions'>> & {
    readonly signals?: Readonly<Record<string, (t: number, rpm: number) => number>>;
    readonly conditions?: Partial<PullTrace['conditions']>;
  } = {},
): PullTrace {
  const time = Float64Array.from({ length: 121 }, (_, i) => i / 20);
  const speed = time.map((t) => 2300 + 700 * t);
  const { signals = {}, conditions = {}, ...rest } = parts;
  return {
    side: 'after',
    input: 0,
    number: 1,
    from: time[0]!,
    to: time.at(-1)!,
    gear: 3,
    ratio: 45,
    speedFrom: speed[0]!,
    speedTo: speed.at(-1)!,
    conditions: {
      ambientTemperature: 15,
      ambientPressure: 99,
      chargeTemperature: 25,
      coolantTemperature: 92,
      oilTemperature: 95,
      fluidTemperature: 85,
      ethanol: Number.NaN,
      ...conditions,
    },
    time,
    speed,
    signals: new Map(
      Object.entries(signals).map(([id, of]): [string, readonly TraceSignal[]] => [
        id,
        [
          {
            member: '',
            values: time.map((t, i) => of(t, speed[i]!)),
            u: 0.1,
            relative: false,
            hz: 20,
            clipped: false,
          },
        ],
      ]),
    ),
    boost: NOTHING,
    taken: NOTHING,
    ...rest,
  };
}
