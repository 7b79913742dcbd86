import { GEAR_KNOWLEDGE, RATIO_MATCHING } from '../../derived/gear-knowledge.js';
import { LEARNED_RATIOS } from '../../derived/ratio-clusters.js';
import { isRefusal } from '../../derived/recipe.js';
import { defineRule } from '../rule.js';
import { judgeRatio } from './ratio-judgement.js';

export const ratio = defineRule({
  id: 'transmission.ratio',
  system: 'transmission',
  question: 'Is it the right gearbox, with the right ratios?',
  why: 'A gearbox of another version fits and drives, but its ratios, clutches and software belong to another engine.',
  weight: 1,
  needs: {
    channels: ['engineSpeed'],
    optional: ['vehicleSpeed', 'wheelSpeed', 'inputShaftSpeed', 'converterSlip', 'converterClutchState', 'gear'],
    derived: [LEARNED_RATIOS, RATIO_MATCHING, GEAR_KNOWLEDGE],
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
    const knowledge = view.derive(GEAR_KNOWLEDGE);
    const speed = [...view.family('wheelSpeed'), ...view.family('vehicleSpeed')].slice(0, 1);
    return {
      ratios: learned.ratios,
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
      agreement: isRefusal(knowledge) ? Number.NaN : knowledge.agreement,
      channels: [view.channel('engineSpeed'), ...speed].map(({ certainty }) => ({ certainty })),
    };
  },
  judge: judgeRatio,
});
