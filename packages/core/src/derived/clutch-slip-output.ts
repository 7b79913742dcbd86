import { DRIVEN_SPEED, type DrivenSpeed } from './driven-speed.js';
import { lined } from './lined.js';
import { LEARNED_RATIOS } from './ratio-clusters.js';
import { type Drive, isRefusal, type Refusal } from './recipe.js';
import { samplesOf } from './samples.js';
import { unstepped } from './unstepped.js';

export interface Output extends Pick<DrivenSpeed, 'values' | 'channel' | 'words' | 'hz' | 'quantum' | 'fresh'> {
  readonly id: string;
  /** Standard uncertainty of the tyre slip that was taken out, a share per (km/h)/s. */
  readonly tyreU: number;
}

/** Steps from here on (km/h) are drawn as lines; and the share of a step that then remains in doubt. */
const COARSE = 0.4;
const LEFT_OF_STEP = 0.4;
/** Tyre slip is known to this share of itself. Common practice, no source. */
const TYRE_U = 0.3;

/** Output shaft, else the driven wheels (their creep on the road then does not matter), else the road speed less tyre slip. */
export function outputOf(drive: Drive): Output | Refusal {
  const id = 'outputShaftSpeed';
  if (usable(drive, id)) {
    const samples = samplesOf(drive);
    const { quantum } = drive.channel(id)!.quality;
    const { hz, fresh } = { hz: samples.hz(id), fresh: samples.fresh(id) };
    const values = lined(drive, samples.held(id)!, fresh, hz);
    return { values, id, channel: id, words: 'the output shaft', hz, quantum, fresh, tyreU: 0 };
  }
  const speed = drive.derive(DRIVEN_SPEED);
  if (isRefusal(speed)) return speed;
  const coarse = speed.quantum >= COARSE;
  const values = coarse
    ? unstepped(speed.values, drive.time, speed.quantum)
    : lined(drive, speed.values, speed.fresh, speed.hz);
  const quantum = coarse ? LEFT_OF_STEP * speed.quantum : speed.quantum;
  const learned = drive.derive(LEARNED_RATIOS);
  const { offset, tyres } = isRefusal(learned) ? { offset: 0, tyres: 0 } : learned;
  const whole = offset === 0 ? values : values.map((v) => (v > 0 ? v + offset : v));
  return {
    ...speed,
    values: tyres > 0 ? withTyreSlip(whole, drive.time, tyres, samplesOf(drive).spacing) : whole,
    quantum,
    id: speed.channel,
    tyreU: TYRE_U * tyres,
  };
}

/** What the driven wheels turn at that speed and acceleration. */
function withTyreSlip(values: Float64Array, time: Float64Array, tyres: number, spacing: number): Float64Array {
  const reach = Math.max(1, Math.round(0.3 / spacing));
  const found = new Float64Array(values.length);
  for (let i = 0; i < values.length; i++) {
    const a = Math.max(0, i - reach);
    const b = Math.min(values.length - 1, i + reach);
    const rate = (values[b]! - values[a]!) / (time[b]! - time[a]!);
    found[i] = values[i]! * (1 + (Number.isFinite(rate) ? tyres * rate : 0));
  }
  return found;
}

export function usable(drive: Drive, id: string): boolean {
  const channel = drive.channel(id);
  return channel !== undefined && channel.quality.samples >= 10 && !channel.quality.constant;
}
