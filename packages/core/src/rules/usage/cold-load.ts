import { LOAD_FRACTION } from '../../derived/load-fraction.js';
import { OIL_ESTIMATE } from '../../derived/oil-estimate.js';
import { isRefusal } from '../../derived/recipe.js';
import { ROW_SECONDS } from '../../derived/row-seconds.js';
import { SAMPLES } from '../../derived/samples.js';
import { defineRule, type LimitDefinition } from '../rule.js';
import { COLD_ENOUGH, judgeColdLoad } from './cold-load-judgement.js';
import { readColdLoad } from './cold-load-reading.js';

const CP = 'common practice, no source';
const limits: readonly LimitDefinition[] = [
  { name: 'oil', value: 60, unit: 'degC', comparison: '<', source: CP, about: 'engine oil that is cold' },
  { name: 'load', value: 0.7, unit: '1', comparison: '>=', source: CP, about: 'load fraction that is hard work' },
  {
    name: 'engineSpeed',
    value: 60,
    unit: '%',
    comparison: '>=',
    source: CP,
    about: 'or engine speed as a share of the rev limit of the profile',
  },
  { name: 'watch', value: 10, unit: 's', comparison: '>', source: CP, about: 'hard work with cold oil in one drive' },
];

export const coldLoad = defineRule({
  id: 'usage.cold-load',
  system: 'usage',
  question: 'Was the engine worked hard with cold oil?',
  why: 'Cold oil is thick and late at bearings, pistons and turbocharger: most of the wear of an engine happens there.',
  weight: 1,
  slow: true,
  needs: {
    channels: [],
    optional: [
      'engineOilTemperature',
      'coolantTemperature',
      'engineSpeed',
      'engineTorque',
      'engineTorquePercent',
      'airMassFlow',
      'engineLoad',
    ],
    derived: [OIL_ESTIMATE, LOAD_FRACTION, ROW_SECONDS, SAMPLES],
    conditions: [`drive from a cold start: engine oil < 60 °C for >= ${COLD_ENOUGH} s`],
  },
  limits,
  method:
    'Seconds of each drive in which the running engine had cold oil and worked hard: high load fraction, or a high share of the rev limit of the profile. Gaps count for nothing. A watch when the time that is beyond doubt, less the uncertainty of its ends, is over the limit; never more, because past use cannot be repaired. ' +
    'Where the oil temperature is not recorded or its sensor is dead, the coolant stands in through the balance of a warm-up, with a lag of 30 to 480 s and the heat of the oil’s own friction: only rows at which even the quickest oil would be cold count for a finding, and rows at which the slowest oil would be cold have to be harmless before it is clear.',
  decoys: [
    'coolant as oil proxy: judged by the bounds of the lag model, and said so',
    'calculated load that reads high at low revs: it counts only at high revs with the pedal well down',
    'fast idle and a short stab of the pedal: neither lasts',
    'oil sensor at the end of its range or dead: not taken for cold oil',
  ],
  cautions: ['Full load and high revs only with engine oil at 80 °C or more.'],
  proves:
    'A cold start and the first ten minutes of an ordinary drive, with engine oil temperature, engine speed, and torque or air mass recorded; rev limit and rated torque in the vehicle profile.',
  observe(view, context) {
    const oil = view.derive(OIL_ESTIMATE);
    if (isRefusal(oil)) return oil;
    const load = view.derive(LOAD_FRACTION);
    const seconds = view.derive(ROW_SECONDS);
    const samples = view.derive(SAMPLES);
    if (isRefusal(seconds)) return seconds;
    if (isRefusal(samples)) return samples;
    const speed = view.optional('engineSpeed');
    const rates = [
      ...(isRefusal(load) ? [] : [samples.hz(load.source)]),
      ...(speed === undefined ? [] : [samples.hz('engineSpeed')]),
    ];
    const reading = readColdLoad({
      oil,
      load: isRefusal(load) ? undefined : load,
      engineSpeed: samples.held('engineSpeed'),
      revLimit: view.vehicle.engine.revLimit,
      time: view.time,
      seconds,
      hz: Math.min(...rates, 1e3),
      limits: context.limits(),
    });
    const read = [view.optional(oil.measured ? 'engineOilTemperature' : 'coolantTemperature'), speed];
    return {
      reading,
      measured: oil.measured,
      lacking: [
        ...(isRefusal(load) ? load.missing.channels : []),
        ...(speed === undefined ? ['engineSpeed'] : []),
        ...(oil.measured ? [] : ['engineOilTemperature']),
      ],
      loadKnown: !isRefusal(load) && (load.basis !== 'calculated-load' || load.highComplete),
      revLimitKnown: view.vehicle.engine.revLimit !== undefined,
      channels: read.flatMap((channel) => (channel === undefined ? [] : [channel])),
    };
  },
  judge: judgeColdLoad,
});
