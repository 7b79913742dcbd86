import { OIL_PRESSURE } from '../../derived/oil-pressure.js';
import { lossWithin, ownCells, ownSamplesOf } from '../../derived/oil-pressure-own.js';
import { isRefusal, type refuse } from '../../derived/recipe.js';
import { IDLE } from '../../derived/segments.js';
import { defineRule, type LimitDefinition } from '../rule.js';
import { judgeOilPressure, type OilPressureObservation } from './oil-pressure-judgement.js';
import { IDLE_SECONDS, idleReadings, SPEED_FROM, speedReading } from './oil-pressure-reading.js';
import { idleByEngineSpeed } from './oil-pressure-rows.js';

const CP = 'common practice, no source';
const TRADE = 'common practice: 10 psi (69 kPa) per 1000 rpm with hot oil, trade page of an instrument supplier';

const limits: readonly LimitDefinition[] = [
  ...(
    [
      ['idle-watch', 1, 'hot idle, median'],
      ['idle-repair', 0.7, 'hot idle, median'],
      ['idle-stop', 0.5, 'hot idle, median: pressure warning switches act at 0.3 to 0.5 bar'],
    ] as const
  ).map(([name, value, about]): LimitDefinition => ({ name, value, unit: 'bar', comparison: '<', source: CP, about })),
  {
    name: 'speed-repair',
    value: 0.69,
    unit: 'bar',
    comparison: '<',
    source: TRADE,
    about: `per 1000 rpm, above ${SPEED_FROM} rpm, hot oil`,
  },
  {
    name: 'cap',
    value: 2,
    unit: 'bar',
    comparison: '<',
    source: CP,
    about: 'no more than this is asked of a regulated or two-stage pump at any speed',
    when: { pump: 'regulated' },
  },
  {
    name: 'cap',
    value: 3.5,
    unit: 'bar',
    comparison: '<',
    source: CP,
    about: 'no more than this is asked of a fixed pump with a relief valve at any speed',
    when: { pump: 'fixed' },
  },
  { name: 'speed-stop', value: 1, unit: 'bar', comparison: '<', source: CP, about: `above ${SPEED_FROM} rpm for 1 s` },
  {
    name: 'own-watch',
    value: 25,
    unit: '%',
    comparison: '>',
    source: CP,
    about: "below the car's own earlier pressure at the same engine speed and oil temperature",
  },
];

export const oilPressure = defineRule({
  id: 'engine.oil-pressure',
  system: 'engine',
  question: 'Is the oil pressure high enough with hot oil?',
  why: 'Bearings live on a film that the pressure feeds: what is missing there ends in a new engine, and the warning lamp comes on only far below what load needs.',
  weight: 3,
  needs: {
    channels: ['engineOilPressure', 'engineSpeed'],
    optional: ['engineOilTemperature', 'coolantTemperature'],
    derived: [OIL_PRESSURE, IDLE],
    conditions: [
      `engine oil >= 80 °C: idle for >= ${IDLE_SECONDS} s`,
      `engine oil >= 80 °C: engine speed > ${SPEED_FROM} rpm for >= 5 s`,
    ],
  },
  limits,
  method:
    'Gauge pressure of hot oil is judged at idle by the median of each stretch of at least ten seconds, and at speed sample by sample against a limit that rises with engine speed up to a cap; the lowest engine speed of the half second around counts, as pressure follows late. Too low at speed takes a second and three fresh samples. Where the oil temperature is not recorded, ten minutes with warm coolant stand in for it. Beside the fixed limits the car is compared with itself: pressure by engine speed and oil temperature, earlier against later in a drive and from drive to drive; a loss counts only when it shows in several cells, idle among them. Clear takes idle and speed. Below the limit for a stop, oil that is still cold counts as well: it makes more pressure, not less.',
  decoys: [
    'absolute pressure: reads barometric pressure with the engine at rest, which is then taken off; never at rest is said so',
    'two-stage and regulated pumps: the cap is that of a regulated pump unless the profile says fixed; their stages go back and forth and spare idle, a loss does neither',
    'pressure that follows a jump of engine speed late: the lowest speed of half a second around counts',
    'the second after a start: pressure builds up then; judged from ten seconds on',
    'spikes of the sensor: neither a median of idle nor three samples in a row',
    'cold oil: makes more pressure; idle and the rising limit wait for 80 °C',
    'a sensor that never moves: not believed',
  ],
  cautions: [
    'Below the stop limit: switch the engine off and do not start it again before the pressure has been measured with a mechanical gauge.',
    'Hot oil scalds: gauges are fitted with the engine cold.',
  ],
  proves:
    'With the oil at 80 °C or more, idle for half a minute and drive for half a minute above 2000 rpm; record engine oil pressure, oil temperature and engine speed at 5 Hz or faster, from key-on before the start.',
  observe(view, context): OilPressureObservation | ReturnType<typeof refuse> {
    const oil = view.derive(OIL_PRESSURE);
    if (isRefusal(oil)) return oil;
    const { channel, fresh, rpm, pressure, zeroError, hot, hz } = oil;
    const idle = view.derive(IDLE);
    const segments = isRefusal(idle) ? idleByEngineSpeed(rpm, view.time) : idle;
    const pump = context.vehicle.engine.oilPump ?? 'regulated';
    const named = context.limits({ pump });
    const own = ownSamplesOf(view.time, fresh, rpm, pressure, hot, view.optional('engineOilTemperature'));
    const within = lossWithin(own, hz);
    return {
      hz,
      certainties: [channel.certainty, oil.speedChannel.certainty],
      hotBy: oil.hotBy,
      measured: oil.measured,
      refused: oil.refused,
      wasHot: hot.includes(1),
      zero: oil.zero,
      idle: idleReadings(channel, pressure, fresh, rpm, view.time, segments, hot, zeroError),
      speed: speedReading(
        channel,
        pressure,
        fresh,
        rpm,
        view.time,
        hot,
        hz,
        { perThousand: named['speed-repair']!, cap: named.cap!, stop: named['speed-stop']! },
        zeroError,
      ),
      own: ownCells(own, hz),
      ...(within === undefined ? {} : { within }),
    };
  },
  judge: judgeOilPressure,
});
