import { isRefusal, recipe, refuse } from './recipe.js';
import { samplesOf } from './samples.js';
import { OIL_WARM, runningOrAll, type Warm } from './warm.js';

/** Coolant leads the oil: after this long (s) of running with warm coolant the oil has followed. Common practice, no source. */
const OIL_FOLLOWS = 600;
const COOLANT_FROM = 80;

export interface OilHot extends Warm {
  /** False when the oil temperature itself is not recorded and coolant stands in for it. */
  readonly measured: boolean;
}

export const OIL_HOT = recipe<OilHot>({
  id: 'oilHot',
  about:
    'Engine oil hot: oil >= 80 °C; where it is not recorded, ten minutes of running with coolant >= 80 °C stand in for it.',
  compute(drive) {
    const oil = drive.derive(OIL_WARM);
    if (!isRefusal(oil)) return { ...oil, measured: true };
    const coolant = samplesOf(drive).held('coolantTemperature');
    if (coolant === undefined) {
      return refuse('not known whether the oil is hot, because engineOilTemperature is absent', {
        channels: ['engineOilTemperature'],
      });
    }
    const { time } = drive;
    const running = runningOrAll(drive);
    const mask = new Uint8Array(time.length);
    let warm = 0;
    let since = Number.NaN;
    for (let i = 1; i < time.length; i++) {
      const step = time[i]! - time[i - 1]!;
      // Engine off or coolant cold: the clock stands still, and starts anew once the coolant has really cooled down.
      if (coolant[i]! >= COOLANT_FROM && running[i] === 1) warm += Math.min(step, samplesOf(drive).maxStep);
      else if (coolant[i]! < COOLANT_FROM - 20) warm = 0;
      if (warm < OIL_FOLLOWS) continue;
      mask[i] = 1;
      if (Number.isNaN(since)) since = time[i]!;
    }
    return { mask, since, source: 'coolantTemperature', limit: COOLANT_FROM, measured: false };
  },
});
