import { BMEP } from '../../derived/bmep.js';
import { BOOST } from '../../derived/boost.js';
import { ENGINE_STOPS } from '../../derived/engine-stops.js';
import { maskOf } from '../../derived/intervals.js';
import { LOAD_FRACTION } from '../../derived/load-fraction.js';
import { isRefusal } from '../../derived/recipe.js';
import { ROW_SECONDS } from '../../derived/row-seconds.js';
import { SAMPLES } from '../../derived/samples.js';
import { IDLE } from '../../derived/segments.js';
import { defineRule, type LimitDefinition } from '../rule.js';
import { judgeHotStop, RATE } from './hot-stop-judgement.js';
import { judgeStop } from './hot-stop-reading.js';

const CP = 'common practice, no source';
const limits: readonly LimitDefinition[] = [
  {
    name: 'window',
    value: 60,
    unit: 's',
    comparison: '<=',
    source: CP,
    about: 'time before the stop that is looked at',
  },
  {
    name: 'bmep',
    value: 12,
    unit: 'bar',
    comparison: '>',
    source: CP,
    about: 'mean effective pressure that is high load',
  },
  { name: 'boost', value: 50, unit: 'kPa', comparison: '>', source: CP, about: 'or boost that is high load' },
  {
    name: 'watch',
    value: 10,
    unit: 's',
    comparison: '>=',
    source: CP,
    about: 'high load within the window before the engine was switched off; one such stop is enough',
  },
];

export const hotStop = defineRule({
  id: 'usage.hot-stop',
  system: 'usage',
  question: 'Was the engine switched off hot?',
  why: 'A turbocharger that glows loses its oil and coolant flow with the engine: oil bakes in its bearing, seals and shaft go.',
  weight: 1,
  needs: {
    channels: ['engineSpeed'],
    optional: [
      'manifoldPressure',
      'boostPressure',
      'engineTorque',
      'coolantPumpDuty',
      'coolantPumpSpeed',
      'selector',
      'brakeSwitch',
      'startStopActive',
      'ignitionSwitch',
    ],
    derived: [BMEP, BOOST, ENGINE_STOPS, IDLE, LOAD_FRACTION, ROW_SECONDS, SAMPLES],
    conditions: ['recording goes on for >= 5 s after the engine is switched off'],
  },
  limits,
  method:
    'Every stop of the engine within the recording is looked at, with the minute before it: seconds at high mean effective pressure (4 pi T / Vd by the displacement of the profile) or at high boost, of which each row has to be beyond its limit at the lower 95 % bound. Enough of them before somebody switched the engine off is a watch, never more, because past use cannot be repaired. Gaps count for nothing. ' +
    'Stops that the car made by itself are left out; a stop that may be one of them leaves the question open.',
  decoys: [
    'end of the recording: without a standing engine nothing was switched off',
    'automatic stop-start: told by its flag, the selector left in a gear, a brake held to the end, or a restart within three minutes',
    'after-run pump: the log goes on, and a pump that is seen to run cools the turbocharger: said so, no finding',
    'engine off while the car rolls: coasting of a car that saves fuel',
  ],
  cautions: ['Cool down for 2 min at light load or idle before switching off after hard use.'],
  proves:
    'A drive that ends as the owner ends it, with the recording going on for at least five seconds after the engine is switched off; engine speed, selector, and manifold pressure or engine torque recorded, displacement in the vehicle profile.',
  observe(view, context) {
    const stops = view.derive(ENGINE_STOPS);
    if (isRefusal(stops)) return stops;
    const seconds = view.derive(ROW_SECONDS);
    if (isRefusal(seconds)) return seconds;
    const samples = view.derive(SAMPLES);
    if (isRefusal(samples)) return samples;
    const bmep = view.derive(BMEP);
    const boost = view.derive(BOOST);
    const idle = view.derive(IDLE);
    const load = view.derive(LOAD_FRACTION);
    const low = isRefusal(idle) ? new Uint8Array(view.time.length) : maskOf(idle, view.time.length);
    if (!isRefusal(load)) for (let i = 0; i < low.length; i++) low[i]! |= load.cruiseLow[i]!;
    const rates = [samples.hz('engineSpeed'), ...(isRefusal(boost) ? [] : [boost.hz])];
    const hz = Math.min(...rates);
    const inputs = {
      time: view.time,
      seconds,
      bmep: isRefusal(bmep) ? undefined : bmep,
      boost: isRefusal(boost) ? undefined : boost,
      low,
      pumps: [...view.family('coolantPumpDuty'), ...view.family('coolantPumpSpeed')],
      hz,
      limits: context.limits(),
    };
    const read = [view.channel('engineSpeed'), view.family('manifoldPressure')[0] ?? view.family('boostPressure')[0]];
    return {
      stops: stops.map((stop) => judgeStop(stop, inputs)),
      hz,
      fastEnough: hz >= 0.95 * RATE,
      lacking: isRefusal(bmep) && isRefusal(boost) ? ['manifoldPressure'] : [],
      byTorque: !isRefusal(bmep),
      byBoost: !isRefusal(boost),
      channels: read.flatMap((channel) => (channel === undefined ? [] : [channel])),
    };
  },
  judge: judgeHotStop,
});
