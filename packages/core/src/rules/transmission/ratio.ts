import { GEAR_AGREEMENT, RATIO_MATCHING } from '../../derived/gear-knowledge.js';
import { LOAD_FRACTION } from '../../derived/load-fraction.js';
import { LEARNED_RATIOS, type LearnedRatios } from '../../derived/ratio-clusters.js';
import { RATIO_SAMPLES } from '../../derived/ratio-samples.js';
import { isRefusal } from '../../derived/recipe.js';
import { defineRule } from '../rule.js';
import { longestHeld } from './ratio-events.js';
import { judgeRatio } from './ratio-judgement.js';

export const ratio = defineRule({
  id: 'transmission.ratio',
  system: 'transmission',
  question: 'Is it the right gearbox, with the right ratios?',
  why: 'A gearbox of another version fits and drives, but its ratios, clutches and software belong to another engine.',
  weight: 1,
  slow: true,
  needs: {
    channels: ['engineSpeed'],
    optional: ['vehicleSpeed', 'wheelSpeed', 'inputShaftSpeed', 'converterSlip', 'converterClutchState', 'gear'],
    derived: [LOAD_FRACTION, LEARNED_RATIOS, RATIO_MATCHING, RATIO_SAMPLES, GEAR_AGREEMENT],
    conditions: ['gentle drive through every forward gear, each >= 5 s', 'vehicle profile with transmission.gears'],
  },
  limits: [
    {
      name: 'watch',
      value: 1,
      unit: '%',
      comparison: '>',
      source: 'common practice, no source',
      about: 'step between neighbouring gears against the profile, lower bound',
    },
    {
      name: 'overall',
      value: 5,
      unit: '%',
      comparison: '>',
      source: 'common practice, no source',
      about: 'all gears together against final drive and tyre of the profile: a question, no level',
    },
  ],
  method:
    'Engine (or turbine) speed over road speed gathers in one heap per gear; heaps are found without being told their number, taken to zero acceleration so that late channels and tyre slip drop out, and matched to the gears of the profile. Only steps between neighbouring gears are judged: tyre size, final drive and the error of the speed display are common to all gears and cancel in them. The common scale is compared with final drive and tyre size apart from that and asked about, never judged.',
  decoys: [
    'a speed display that reads high (UN R39, from memory): common to all gears, cancels in the steps',
    'another tyre size or worn tyres: the same; told as a question beyond the overall limit',
    'clutch slip, open converter, take-up and shifts: not settled, or a faint heap beside a strong one',
    'a converter between engine and gears: without turbine speed a step that is off is never a finding, and with nothing recorded that tells when it is locked it is not clear either',
    'a gear driven only under load: a clutch that slips there looks like another ratio, so the gear proves nothing',
    'design slip of dual clutches at light load: estimated and taken out',
    'late channels: the lag is estimated and taken out',
    'coarse or slow speed: the uncertainty of each ratio grows, the finding takes the lower bound',
    'reverse: driven slowly and near first gear, dropped as the weaker of two heaps',
  ],
  cautions: ['Drive through the gears within the law; a passenger watches the log.'],
  proves:
    'Two minutes of gentle driving through every forward gear, each held for at least five seconds, with engine speed and road speed recorded, and a profile that names the ratios, the final drive and the tyre size.',
  observe(view) {
    const learned = view.derive(LEARNED_RATIOS);
    if (isRefusal(learned)) return learned;
    const { kind } = view.vehicle.transmission;
    const matching = view.derive(RATIO_MATCHING);
    const agreement = view.derive(GEAR_AGREEMENT);
    const speed = [...view.family('wheelSpeed'), ...view.family('vehicleSpeed')].slice(0, 1);
    const load = view.derive(LOAD_FRACTION);
    const data = view.derive(RATIO_SAMPLES);
    return {
      ratios: learned.ratios,
      hz: isRefusal(data) ? Number.NaN : 1 / data.interval,
      light: isRefusal(load) ? learned.ratios.map(() => Number.NaN) : lightSeconds(view.time, learned, load.loaded),
      held: longestHeld(view.time, learned, isRefusal(load) ? undefined : load.loaded),
      passing: learned.passing,
      open:
        kind !== 'dual-clutch' &&
        kind !== 'manual' &&
        learned.source.startsWith('engineSpeed') &&
        view.optional('converterSlip') === undefined &&
        view.optional('converterClutchState') === undefined,
      geared: learned.geared,
      slipping: kind !== 'dual-clutch' && kind !== 'manual' && learned.source.startsWith('engineSpeed'),
      ...(isRefusal(matching) ? {} : { matching }),
      agreement: isRefusal(agreement) ? Number.NaN : agreement,
      channels: [view.channel('engineSpeed'), ...speed].map(({ certainty }) => ({ certainty })),
    };
  },
  judge: judgeRatio,
});

/** Longest step of time (s) that still belongs to a gear. */
const GAP = 2.5;

/** Seconds that each learned gear was held without load: there no clutch slips but by design. */
function lightSeconds(time: Float64Array, { gear, ratios }: LearnedRatios, loaded: Uint8Array): number[] {
  const seconds = ratios.map(() => 0);
  for (let i = 1; i < time.length; i++) {
    const g = gear[i]!;
    const dt = time[i]! - time[i - 1]!;
    if (g >= 1 && loaded[i] === 0 && dt <= GAP) seconds[g - 1]! += dt;
  }
  return seconds;
}
