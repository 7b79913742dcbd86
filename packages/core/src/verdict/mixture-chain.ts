import type { Evidence, Problem, Sign, Test } from './chain.js';

/** Trims (points) further apart than this between regimes make a pattern; beyond `OFF` they are off. As in `fuel.trim`. */
const APART = 5;
const OFF = 8;
/** Feed down by this much (%) when the rail falls names the tank pump. As in `fuel.rail-pressure`. */
const FEED_WEAK = 6;

const LISTEN: Test = {
  cost: 0,
  test: 'Engine idling: listen for hissing, look at hoses, clamps and crankcase ventilation; pinch off tank ventilation and servo line one by one.',
  tells: 'The short trim moves: the leak is on that line.',
};
const RECORD_PRESSURE: Test = {
  cost: 1,
  test: 'One pull with rail pressure, feed pressure, their targets, injection time and lambda recorded.',
  tells: 'Feed falls first: tank side. Rail falls alone: high-pressure pump. Both hold: air meter or injectors.',
};
const VOLTAGE: Test = {
  cost: 2,
  test: 'Supply voltage and earth of the tank pump under load; then filter, then delivery.',
  tells: 'Low voltage or a blocked filter explains it without a new pump.',
};
const SMOKE: Test = {
  cost: 2,
  test: 'Smoke test of the intake, then of the exhaust ahead of the sensors.',
  tells: 'Smoke shows the leak; none at all leaves meter and fuel.',
};
const PRESSURE_TEST: Test = {
  cost: 2,
  test: 'Pressure test of the charge-air path from meter to intake, at boost pressure.',
  tells: 'Pressure falls and it hisses: hose, cooler or dump valve.',
};
const METER: Test = {
  cost: 1,
  test: 'Clean or swap the air meter, look at filter and ducts, repeat the same drive.',
  tells: 'The trims follow the meter, or they stay.',
};
const SWAP_SENSORS: Test = {
  cost: 2,
  test: 'Swap the lambda sensors between the banks.',
  tells: 'The difference follows the sensor, or it stays with the bank.',
};
const FLOW: Test = {
  cost: 3,
  test: 'Flow test of the injectors.',
  tells: 'Clogged or small injectors show; even flow leaves the map.',
};
const HIGH_PUMP: Test = {
  cost: 3,
  test: 'High-pressure pump: cam follower, control valve, fall of the rail pressure after switching off.',
  tells: 'Wear of the follower or a leaking valve shows.',
};

/** Idle, cruise and load trim of the bank that is furthest off; NaN where not shown. */
function trims(e: Evidence): { idle: number; cruise: number; load: number } {
  const at = (regime: string): number => {
    const one = e.measure('fuel.trim', `${regime}.bank1`);
    const two = e.measure('fuel.trim', `${regime}.bank2`);
    return Math.abs(two) > Math.abs(one) || Number.isNaN(one) ? two : one;
  };
  return { idle: at('idle'), cruise: at('cruise'), load: at('load') };
}

const sign = (rule: string, says: string, weight: number, lead = false): Sign => ({ rule, says, weight, lead });
const figure = (value: number): string => `${value > 0 ? '+' : ''}${Math.round(value)} %`;

const growsLean = (e: Evidence): Sign | false => {
  const { idle, load } = trims(e);
  return (
    load > OFF &&
    load - idle >= APART &&
    sign('fuel.trim', `lean growing with air flow: ${figure(idle)} at idle, ${figure(load)} at load`, 2, true)
  );
};
const leanAtLoad = (e: Evidence): Sign | undefined =>
  e.found('fuel.lambda-load') && e.measure('fuel.lambda-load', 'excess') > 0
    ? sign('fuel.lambda-load', 'leaner than its target at full load', 2, true)
    : undefined;
const pressureHolds = (e: Evidence, weight: number): Sign | false =>
  e.clear('fuel.rail-pressure') && sign('fuel.rail-pressure', 'fuel pressure holds at full load', weight);
const oneBank = (e: Evidence): Sign | false => {
  const apart = ['idle', 'cruise', 'load'].map((regime) =>
    Math.abs(e.measure('fuel.trim', `${regime}.bankDifference`)),
  );
  const most = Math.max(...apart.filter((each) => !Number.isNaN(each)), 0);
  return most > 6 && sign('fuel.trim', `one bank only: ${Math.round(most)} points apart`, 2, true);
};

/** Mixture: which part is it? Patterns of evidence and their causes are common practice, no source. */
export const MIXTURE: Problem = {
  id: 'mixture',
  problem: 'The mixture is not what the control unit wants.',
  suspicions: [
    {
      cause: 'tank side of the fuel supply: pump, its voltage, filter',
      signs: (e) => {
        const before = e.measure('fuel.rail-pressure', 'feedBefore');
        const feed = e.measure('fuel.rail-pressure', 'feed.below');
        const low = e.found('fuel.rail-pressure') !== undefined && (before >= FEED_WEAK || feed > 8);
        const alone = e.found('fuel.rail-pressure') && before < FEED_WEAK;
        return [
          low && sign('fuel.rail-pressure', 'feed pressure sags, before the rail pressure', 3, true),
          alone && sign('fuel.rail-pressure', 'the feed held while the rail fell', -3),
          growsLean(e),
          leanAtLoad(e),
          e.found('fuel.injector-duty') && sign('fuel.injector-duty', 'injectors open longer than they should', 1),
          pressureHolds(e, -4),
        ];
      },
      tests: [RECORD_PRESSURE, VOLTAGE],
    },
    {
      cause: 'high-pressure pump or its control valve',
      signs: (e) => {
        const below = e.found('fuel.rail-pressure') !== undefined && e.measure('fuel.rail-pressure', 'rail.below') > 8;
        const before = e.measure('fuel.rail-pressure', 'feedBefore');
        return [
          below &&
            before < FEED_WEAK &&
            sign('fuel.rail-pressure', 'rail pressure falls while the feed holds', 3, true),
          below &&
            Number.isNaN(before) &&
            sign('fuel.rail-pressure', 'rail pressure falls; the feed was not recorded', 2, true),
          below && before >= FEED_WEAK && sign('fuel.rail-pressure', 'the feed had fallen before', -2),
          leanAtLoad(e),
          pressureHolds(e, -4),
        ];
      },
      tests: [RECORD_PRESSURE, HIGH_PUMP],
    },
    {
      cause: 'injectors at their end',
      signs: (e) => [
        e.found('fuel.injector-duty') &&
          sign('fuel.injector-duty', 'open for (nearly) all of the time there is', 3, true),
        leanAtLoad(e),
        pressureHolds(e, 1),
        e.clear('fuel.injector-duty') && sign('fuel.injector-duty', 'the injectors have time left', -3),
      ],
      tests: [RECORD_PRESSURE, FLOW],
    },
    {
      cause: 'air meter reads low at high flow',
      signs: (e) => [
        growsLean(e),
        pressureHolds(e, 2),
        e.found('air.meter-range') && sign('air.meter-range', 'the meter stops at its end', 3, true),
        e.found('fuel.rail-pressure') &&
          sign('fuel.rail-pressure', 'the fuel pressure does not hold, which explains it', -2),
      ],
      tests: [METER, RECORD_PRESSURE],
    },
    {
      cause: 'air drawn in behind the air meter',
      signs: (e) => {
        const { idle, cruise, load } = trims(e);
        const driving = Number.isNaN(load) ? cruise : load;
        return [
          idle > OFF &&
            idle - driving >= APART &&
            sign('fuel.trim', `lean at idle only: ${figure(idle)}, ${figure(driving)} when driving`, 3, true),
          idle > OFF && Number.isNaN(driving) && sign('fuel.trim', `lean at idle: ${figure(idle)}`, 1, true),
          e.found('engine.breathing') && sign('engine.breathing', 'idles on too much air', 1),
          e.found('engine.idle') && sign('engine.idle', 'idle unsteady', 1),
          oneBank(e) && sign('fuel.trim', 'on one bank only', -1),
        ];
      },
      tests: [LISTEN, SMOKE],
    },
    {
      cause: 'charge air escapes behind the air meter',
      signs: (e) => {
        const { idle, load } = trims(e);
        return [
          load < -OFF &&
            idle - load >= APART &&
            sign('fuel.trim', `rich under load: ${figure(load)}, ${figure(idle)} at idle`, 2, true),
          e.found('air.charge-leak') && sign('air.charge-leak', 'metered air does not reach the cylinders', 3, true),
          e.found('air.boost-control') && sign('air.boost-control', 'boost misses its target', 2),
          e.found('air.turbo-health') && sign('air.turbo-health', 'the actuator works at its end', 1),
          e.clear('air.boost-control') && sign('air.boost-control', 'boost holds its target', -1),
        ];
      },
      tests: [LISTEN, PRESSURE_TEST],
    },
    {
      cause: 'air, exhaust or fuel of one bank',
      signs: (e) => [
        oneBank(e),
        e.found('engine.cylinder-balance') && sign('engine.cylinder-balance', 'a cylinder stands apart', 1),
        e.found('engine.cam-timing') && sign('engine.cam-timing', 'the cam timing is off', 1),
        e.found('fuel.lambda-sensor') &&
          sign('fuel.lambda-sensor', 'a lambda sensor answers late: it may be the sensor alone', -1),
      ],
      tests: [LISTEN, SWAP_SENSORS, SMOKE, FLOW],
    },
    {
      cause: 'lambda sensor',
      signs: (e) => [
        e.found('fuel.lambda-sensor') && sign('fuel.lambda-sensor', 'answers late to fuel cuts', 3, true),
        oneBank(e) && { ...(oneBank(e) as Sign), weight: 1 },
        e.clear('fuel.lambda-sensor') && sign('fuel.lambda-sensor', 'the sensors answer quickly', -2),
      ],
      tests: [SWAP_SENSORS],
    },
    {
      cause: 'tank ventilation',
      signs: (e) => [
        e.found('fuel.purge') && sign('fuel.purge', 'the trims move with the purge valve', 3, true),
        trims(e).idle < -OFF && sign('fuel.trim', `rich at idle: ${figure(trims(e).idle)}`, 1),
      ],
      tests: [LISTEN],
    },
    {
      cause: 'fuel in the engine oil',
      signs: (e) => [
        e.found('engine.oil-dilution') && sign('engine.oil-dilution', 'rich idle fades as the oil gets hot', 3, true),
        trims(e).idle < -OFF && sign('fuel.trim', `rich at idle: ${figure(trims(e).idle)}`, 1),
      ],
      tests: [
        {
          cost: 0,
          test: 'Smell the oil and read its level.',
          tells: 'It smells of fuel or has risen: change it and drive again.',
        },
      ],
    },
    {
      cause: 'too much fuel pressure, or injectors larger than the map believes',
      signs: (e) => {
        const { idle, cruise, load } = trims(e);
        const shown = [idle, cruise, load].filter((each) => !Number.isNaN(each));
        const even = shown.length > 1 && Math.max(...shown) - Math.min(...shown) < APART;
        return [
          even &&
            Math.max(...shown) < -OFF &&
            sign('fuel.trim', `rich alike everywhere: ${figure(Math.min(...shown))}`, 2, true),
          e.measure('fuel.rail-pressure', 'rail.above') > 10 &&
            sign('fuel.rail-pressure', 'pressure above its target', 3, true),
          e.found('fuel.injector-size') && sign('fuel.injector-size', 'other injectors than claimed', 2),
        ];
      },
      tests: [RECORD_PRESSURE, FLOW],
    },
    {
      cause: 'more ethanol in the fuel than the map expects, or an air meter that reads low throughout',
      signs: (e) => {
        const { idle, cruise, load } = trims(e);
        const shown = [idle, cruise, load].filter((each) => !Number.isNaN(each));
        const even = shown.length > 1 && Math.max(...shown) - Math.min(...shown) < APART;
        return [
          even &&
            Math.min(...shown) > OFF &&
            !oneBank(e) &&
            sign('fuel.trim', `lean alike everywhere: ${figure(Math.max(...shown))}`, 2, true),
          pressureHolds(e, 1),
        ];
      },
      tests: [
        {
          cost: 0,
          test: 'Ask what was filled last; repeat with known fuel.',
          tells: 'The trims come back: it was the fuel.',
        },
        METER,
      ],
    },
  ],
};
