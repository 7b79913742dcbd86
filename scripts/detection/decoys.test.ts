import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { FAULTS } from '../simulate/index.js';

/** `sim` = decoy of the rule in the simulator; `test` = file below the rules' tests and words of its title or case. */
type Held = { readonly sim: string } | { readonly test: readonly [file: string, words: string] };
const sim = (name: string): Held => ({ sim: name });
const test = (file: string, words: string): Held => ({ test: [file, words] });

/** What each rule of gearbox and driveline must not be fooled by, and where that is held. */
const HELD: Readonly<Record<string, Readonly<Record<string, Held>>>> = {
  'transmission.over-temperature': {
    'sensor at the low end of its range': sim('sentinelLow'),
    'sensor at the high end of its range': sim('sentinelHigh'),
    'degrees Fahrenheit': sim('fahrenheit'),
    spikes: sim('spikes'),
    'fluid tied to a hot coolant': sim('coolantCoupled'),
  },
  'transmission.clutch-slip': {
    'late road speed': sim('speedLag'),
    'steps of 1 km/h': sim('wholeKilometres'),
    'slip of tyres': sim('tyreSlip'),
    'slip by design': sim('microSlip'),
    'hand-over between clutches': sim('handOver'),
    'open converter': sim('openConverter'),
    'slip by design in gears never on overrun': test('clutch-slip-simulated', 'gears hardly on overrun'),
  },
  'transmission.clutch-adaptation': { 'right after a relearn': sim('relearned') },
  'transmission.selection': {
    'cold fluid': sim('coldFluid'),
    'rolling faster than a walk': sim('creeping'),
    'winter and eco starts': test('selection', 'Winter mode starts in second gear on purpose'),
    'brake not pressed': test('selection', 'does not time cold fluid, a released brake or a gear held ready'),
    'automatic hold': test('selection-drop-outs', 'automatic hold, ended by the pedal'),
    'gear held ready': test('selection', 'a released brake or a gear held ready'),
    'coding of reverse': test('selection', 'reads reverse coded as %i'),
    'slow log': sim('slowLog'),
  },
  'transmission.shift-quality': {
    'lifting off': sim('liftOff'),
    'blip of a downshift': test('shift-quality', 'the engine blips in a downshift'),
    limiter: sim('limiter'),
    'skipped gears': test('shift-quality', 'a skipped gear takes longer'),
    'change of mode': test('shift-quality', 'another mode shifts quicker throughout'),
    'slow log': sim('slowLog'),
    'steps of 1 km/h': sim('wholeKilometres'),
  },
  'transmission.gear-coverage': {
    'manual mode, cold engine': test('gear-rules', 'gives no chance in manual mode or cold'),
    'skipped gears': sim('skipShifts'),
    'short trip': sim('shortTrip'),
    'town only': sim('townOnly'),
    'no gear column': sim('noGearColumn'),
  },
  'transmission.ratio': {
    'display that reads high': sim('displayHigh'),
    'another tyre size': test('gear-simulated', 'a tyre size in the profile that is not the one on the car'),
    'late road speed': sim('speedLag'),
    'steps of 1 km/h': sim('wholeKilometres'),
    'slip of tyres': sim('dampRoad'),
    'a slip that lasts': test('gear-rules', 'counts no ratio as a gear that the profile does not have'),
  },
  'transmission.pressure': { 'cold fluid': sim('coldFluid'), 'sensor a little off': sim('sensorOff') },
  'transmission.judder': {
    'half order of a rough idle': sim('roughIdle'),
    'rough road': sim('roughRoad'),
    'slip by design': sim('designedSlip'),
  },
  'transmission.lock-up': { 'slip by design': sim('designedSlip'), 'cold fluid': sim('coldFluid') },
  'driveline.front-drive': {
    'low command': sim('lowCommand'),
    'stability control opens': sim('stabilityOpens'),
    'anti-lock brakes open': test('front-drive', 'anti-lock brakes open the coupling'),
    'hot coupling cuts out': test('front-drive', 'a hot coupling cuts out'),
    'speed cut-off': sim('speedCutOff'),
    braking: sim('braking'),
    corners: sim('corners'),
  },
  'driveline.low-speed-hop': {
    'cold tyres': sim('coldTyres'),
    'tone ring': sim('toneRing'),
    'floor of the sensors': sim('sensorFloor'),
    'quantised speed': sim('quantisedSpeed'),
    'rear hop alone': sim('rearAlone'),
  },
  'driveline.tyre-circumference': {
    pressures: sim('pressures'),
    'seasonal set': sim('seasonalSet'),
    'one new pair': test('tyre-circumference', 'one new pair may be all of it'),
    'creep of the driven axle': sim('drivenCreep'),
    bends: sim('bends'),
  },
  'driveline.wheel-speed': {
    'road crown': sim('roadCrown'),
    'wind and slope': test('coast-down', 'stays silent where all drives roll alike, in wind, over hills'),
    'another tyre': sim('otherTyre'),
    'tight bends': sim('tightBends'),
    'locked wheels': sim('hardBraking'),
    'floor of the sensors': sim('sensorFloor'),
  },
};

const ruled = FAULTS.filter(({ rule }) => /^(transmission|driveline)\./.test(rule));

describe('what must not fool the rules of gearbox and driveline', () => {
  it('names every rule, and every decoy that the simulator has for it', () => {
    expect(Object.keys(HELD).sort()).toEqual(ruled.map(({ rule }) => rule).sort());
    for (const { rule, decoys } of ruled) {
      const named = Object.values(HELD[rule]!).flatMap((held) => ('sim' in held ? [held.sim] : []));
      expect([rule, ...named.sort()]).toEqual([rule, ...Object.keys(decoys).sort()]);
    }
  });

  it.each(
    Object.entries(HELD).flatMap(([rule, all]) =>
      Object.entries(all).flatMap(([entry, held]) => ('test' in held ? [{ rule, entry, held: held.test }] : [])),
    ),
  )('$rule, $entry: its test is there', ({ rule, held: [file, words] }) => {
    const path = `../../packages/core/test/rules/${rule.split('.')[0]}/${file}.test.ts`;
    expect(readFileSync(new URL(path, import.meta.url), 'utf8')).toContain(words);
  });
});
