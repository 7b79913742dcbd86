import { spoken } from '../channels/spoken.js';

/** What a measure is called in a report where its name alone does not say it; by rule, and by measure or its first part. */
export const WORDS: Readonly<Record<string, Readonly<Record<string, string>>>> = {
  'usage.over-rev': {
    over: 'over the limit',
    mechanical: 'driven by the wheels',
    mechanicalOver: 'by the wheels over the limit',
  },
  'usage.cold-load': {
    hardCold: 'hard work with cold oil for certain',
    hardColdLikely: 'hard work with cold oil likely',
    cold: 'time with cold oil',
    coldest: 'coldest oil',
  },
  'usage.severity': { share: 'full load at high revs', moving: 'time moving' },
  'engine.pre-ignition': { ripe: 'time at low speed and high load' },
  'engine.misfire': { rate: 'missed firings in the worst window' },
  'engine.idle': { offTarget: 'off its target', idle: 'time of warm idle' },
  'engine.oil-pressure': {
    hotIdle: 'pressure at hot idle',
    hotIdleSpeed: 'engine speed of that idle',
    atSpeed: 'pressure at speed nearest to its limit',
    'atSpeed.limit': 'limit there',
    'atSpeed.engineSpeed': 'engine speed there',
    secondsAtSpeed: 'time at speed with hot oil',
    ownLoss: 'below its own pressure',
  },
  'engine.oil-surge': {
    cornering: 'time of cornering and braking',
    lowest: 'lowest pressure there',
    buildUp: 'build-up after the start',
  },
  'engine.oil-temperature': { dwell: 'time above the lowest limit', warm: 'time warm' },
  'engine.oil-dilution': { warming: 'idle trim while the oil warmed', hot: 'idle trim with hot oil' },
  'engine.torque-load': {
    pressure: 'mean effective pressure below 3000 rpm',
    overRated: 'times that of the rated torque',
    ratedPressure: 'mean effective pressure of the rated torque',
    loaded: 'time of load there',
  },
  'engine.power': { claim: 'claimed power', powerLow: 'power at least', powerHigh: 'power at most' },
  'engine.breathing': {
    manifold: 'manifold pressure',
    manifoldShare: 'share of the barometric pressure',
    crankcase: 'crankcase pressure over ambient',
    idle: 'time of warm idle',
  },
  'engine.cam-timing': { still: 'time with the target still' },
  'engine.coolant-loss': {
    pressed: 'pressure that rises with load',
    regulated: 'time of regulated coolant',
    largest: 'largest swing',
  },
  'engine.start-quality': { cold: 'cold start', hot: 'warm start' },
  'engine.protection': {
    compared: 'time compared at full pedal',
    largest: 'largest shortfall',
    ofRated: 'share of the rated torque',
  },
  'engine.cooling': {
    dwell: 'time above the lowest limit',
    warm: 'time warm',
    'peak.standstill': 'peak standing',
    'peak.speed': 'peak with wind',
    level: 'level in town',
    'level.speed': 'level on the road',
  },
  'engine.smoothness': {
    share: 'part load that jerks',
    cruise: 'own cruise level',
    ratio: 'times its own cruise level',
  },
  'fuel.lambda-load': { fullLoad: 'time of full load', excess: 'most over its target' },
  'fuel.lambda-sensor': { response: 'time to read air', lag: 'lag behind the target' },
  'fuel.injector-size': { dead: 'opening delay', reference: 'at a pressure of', claim: 'claimed flow' },
  'fuel.rail-pressure': {
    'rail.below': 'rail below its target',
    'rail.above': 'rail above its target',
    'feed.below': 'feed below its target',
    'feed.above': 'feed above its target',
    feedBefore: 'feed below its target before the rail',
  },
  'fuel.octane-learning': { learned: 'authority learned', retard: 'steady retard' },
  'fuel.purge': { steps: 'openings', effect: 'effect on the trim', tankRise: 'rise of the tank pressure' },
  'air.boost-control': {
    over: 'settled error above',
    short: 'settled error below',
    excused: 'settled error below with torque as demanded',
  },
  'air.throttle-closure': { judged: 'time judged', open: 'own full opening' },
  'air.charge-cooling': { charge: 'after the cooler', compressed: 'after the compressor', rise: 'rise in a pull' },
  'air.meter-range': { highest: 'highest flow', flat: 'time at one maximum' },
  'air.turbo-health': { used: 'authority used', position: 'off its command' },
  'air.charge-leak': {
    excess: 'metered air over computed air',
    excessU: 'standard uncertainty of that',
    rich: 'less fuel needed than in cruise',
    agreeing: 'pulls that agree',
  },
  'exhaust.temperature': { dwell: 'time above the lowest limit' },
  'exhaust.catalyst': { storage: 'stored oxygen as air', cuts: 'fuel cuts' },
  'exhaust.particulate-filter': { offset: 'reading without flow', share: 'share of the profile' },
  'electrical.charging': {
    above1500: 'time above 1500 rpm',
    highest: 'highest voltage',
    usual: 'usual voltage',
    lowest: 'lowest voltage',
    lowTime: 'time of low voltage',
    crank: 'voltage while cranking',
    crankLimit: 'least that a sound battery holds',
  },
};

/** Name of a measure in words, without commas, as measures stand in a row. */
export function measureWords(rule: string, name: string): string {
  const own = WORDS[rule] ?? {};
  const [first = name, ...rest] = name.split('.');
  const head = own[first];
  const words = own[name] ?? (head === undefined ? spoken(name) : [head, ...rest.map(spoken)].join(' '));
  return words.replaceAll(',', '');
}
