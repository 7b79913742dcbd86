import { isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import type { SAMPLES } from '../../derived/samples.js';
import { ENGINE_STARTS } from '../../derived/starts.js';
import type { Channel } from '../../recording/recording.js';
import type { View } from '../rule.js';

export const FLUIDS = ['coolantTemperature', 'engineOilTemperature', 'transmissionOilTemperature'] as const;
export type Fluid = (typeof FLUIDS)[number];

/** How the car stood when the recording began. */
export interface Beginning {
  /** degC of each fluid that was recorded. */
  readonly fluids: readonly { readonly channel: Fluid; readonly value: number }[];
  /** degC outside, NaN when nothing tells. */
  readonly outside: number;
  /** Intake air stands in for it: never colder than outside, warmer over a warm engine. */
  readonly byIntake: boolean;
  /** Run time of the engine (s) at the first row; NaN when not recorded. */
  readonly runTime: number;
  /** The recording holds the start of the engine, before it moved. */
  readonly started: boolean;
  readonly channels: readonly Channel[];
}

type ColdStartView = View<
  never,
  Fluid | 'ambientTemperature' | 'intakeAirTemperature' | 'engineRunTime' | 'engineSpeed',
  readonly [typeof SAMPLES, typeof ENGINE_STARTS]
>;

/** s: slow channels are asked every ten seconds; a cold fluid does not move in that time. */
const BEGINNING = 15;
/** s in which the start has to come for the recording to begin with it. */
const START = 120;

export function readBeginning(view: ColdStartView): Beginning | Refusal {
  const fluids = FLUIDS.flatMap((id) => {
    const channel = view.optional(id);
    const value = first(channel, view.time);
    return channel === undefined || Number.isNaN(value) ? [] : [{ channel: id, value, from: channel }];
  });
  if (fluids.length === 0)
    return refuse('no temperature of a fluid at the beginning of the recording', { channels: [...FLUIDS] });
  const ambient = view.optional('ambientTemperature');
  const outside = first(ambient, view.time);
  const intake = view.optional('intakeAirTemperature');
  const byIntake = Number.isNaN(outside);
  const starts = view.derive(ENGINE_STARTS);
  const began = view.time[0] ?? 0;
  const stand = byIntake ? intake : ambient;
  return {
    fluids: fluids.map(({ channel, value }) => ({ channel, value })),
    outside: byIntake ? first(intake, view.time) : outside,
    byIntake,
    runTime: first(view.optional('engineRunTime'), view.time),
    started: !isRefusal(starts) && starts.some(({ from }) => from - began <= START),
    channels: [...fluids.map(({ from }) => from), ...(stand === undefined ? [] : [stand])],
  };
}

/** First sample within the beginning; NaN when there is none. */
function first(channel: Channel | undefined, time: Float64Array): number {
  if (channel === undefined) return Number.NaN;
  for (let i = 0; i < time.length && time[i]! - time[0]! <= BEGINNING; i++)
    if (!Number.isNaN(channel.values[i]!)) return channel.values[i]!;
  return Number.NaN;
}
