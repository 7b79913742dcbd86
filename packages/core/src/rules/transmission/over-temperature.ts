import { rowsAtOrAfter } from '../../derived/intervals.js';
import { PULL_AWAYS } from '../../derived/pull-aways.js';
import { isRefusal, refuse } from '../../derived/recipe.js';
import { heldValues } from '../../derived/refresh.js';
import { PULLS } from '../../derived/segments.js';
import { SPEED } from '../../derived/speed.js';
import { valuesAt } from '../../math/gather.js';
import { defineRule, type LimitDefinition } from '../rule.js';
import { storedPeakOf } from '../stored-temperature.js';
import { judgeFluid } from './over-temperature-judgement.js';
import { heatingPer, steadyDifference } from './over-temperature-physics.js';
import { type Measured, OPERATING, type Reading, readFluid } from './over-temperature-reading.js';

const CP = 'common practice, no source';

function ladder(about: string, when: Readonly<Record<string, string>>, values: readonly number[]): LimitDefinition[] {
  return ['watch', 'repair', 'stop'].slice(0, values.length).map((name, i) => ({
    name,
    value: values[i]!,
    unit: 'degC',
    comparison: '>=',
    source: CP,
    about,
    when,
  }));
}

export const overTemperature = defineRule({
  id: 'transmission.over-temperature',
  system: 'transmission',
  question: 'Did the transmission fluid get too hot, how often, how long, and what did it cost?',
  why: 'Heat is what wears wet clutches, seals and fluid first, and the driver has no gauge for it.',
  weight: 3,
  slow: true,
  needs: {
    channels: ['transmissionOilTemperature'],
    optional: ['clutchOilTemperature', 'coolantTemperature', 'transmissionOilTemperatureMaximum'],
    // The clutch outlet alone is judged by its own limits.
    instead: { transmissionOilTemperature: 'clutchOilTemperature' },
    derived: [SPEED, PULLS, PULL_AWAYS],
    conditions: [`transmission fluid >= ${OPERATING} °C for >= 300 s of driving`],
  },
  readOuts: true,
  limits: [
    ...ladder('sump temperature, dual clutch', { place: 'sump', kind: 'dual-clutch' }, [115, 125, 140]),
    ...ladder('sump temperature, converter', { place: 'sump', kind: 'converter' }, [120, 130, 145]),
    ...ladder('temperature at the clutch outlet', { place: 'clutch-outlet' }, [160, 190]),
    ...ladder('temperature at the cooler inlet', { place: 'cooler-inlet' }, [160, 190]),
    {
      name: 'cooler',
      value: 20,
      unit: 'K',
      comparison: '>',
      source: CP,
      about: 'fluid minus coolant, steady motorway drive',
      when: { place: 'sump' },
    },
  ],
  method:
    'The temperature is cleared of range ends, of leaps that no fluid can make and of spikes, and smoothed over a second. An event enters at the lowest limit for at least two seconds and ends five kelvin below it; its severity is the highest limit at which the lower 95 % bound of the reading holds for two seconds with three fresh samples. Peak, time above each limit, rise per full-load pull and per start, time constant of cooling and, as a comparison only, the ageing of the fluid in equivalent hours (halved life per 11.1 K above 79.4 °C; the chart was made for conventional automatic fluid) are measured. On a steady motorway drive the fluid is compared with the coolant to judge the cooler. A highest temperature that the control unit has stored counts one step less than one that was seen. Limits go by the kind of transmission and by where the sensor sits. Clear takes fluid at operating temperature for five minutes.',
  decoys: [
    'sensor at the ends of its range (-40, 215 °C): taken out',
    'a column in degF: converted when the file is read',
    'spikes of single samples, loose connectors: neither lasts two seconds in a way that fluid can',
    'fluid coupled to the coolant at 105 to 110 °C: below the limits, and its distance from the coolant is small',
    'a slow fluid in steps of one degree seldom changes: its samples are counted by the rate of the recording, not by changes',
    'gaps: never counted as time above a limit',
  ],
  cautions: [
    'Stop the run at once above 135 °C of transmission fluid.',
    'At most two launches, with at least five minutes of cooling between them; brake-stall no longer than three seconds.',
    'Fluid is hot enough to scald: let it cool before anything is opened.',
  ],
  proves:
    'Drive for at least ten minutes until the fluid is warm, with one full-load pull where it is lawful and safe, and record the transmission fluid temperature at 1 Hz or faster.',
  notApplicableUnshown: (vehicle) =>
    vehicle.transmission.kind === 'manual'
      ? 'A manual gearbox has neither wet clutches nor a converter that heat its fluid, and its temperature was not recorded.'
      : undefined,
  observe(view, context) {
    const channels = [...view.family('transmissionOilTemperature'), ...view.family('clutchOilTemperature')];
    const measured = channels.flatMap((channel): Measured[] => {
      const found = readFluid(channel, view.time, view.vehicle, (variant) => context.limits(variant));
      return found === undefined ? [] : [found];
    });
    const peak = storedPeakOf(view.optional('transmissionOilTemperatureMaximum'));
    const stored = peak === undefined ? {} : { stored: peak };
    if (measured.length === 0) {
      if (peak !== undefined) return { readings: [], ...stored };
      return refuse('the transmission fluid temperature holds no usable samples', {
        channels: ['transmissionOilTemperature'],
      });
    }
    const pulls = view.derive(PULLS);
    const starts = view.derive(PULL_AWAYS);
    const speed = view.derive(SPEED);
    const coolant = view.optional('coolantTemperature');
    const readings = measured.map(({ series, reading }): Reading => {
      const at = rowsAtOrAfter(view.time, series.time);
      const steady =
        reading.place === 'sump' && coolant !== undefined && !isRefusal(speed)
          ? steadyDifference(series, valuesAt(heldValues(coolant.values, view.time), at), valuesAt(speed.values, at))
          : undefined;
      const full = isRefusal(pulls) ? [] : pulls;
      // A pull that begins within two seconds of moving off is a start at full load.
      const begun = isRefusal(starts)
        ? []
        : full.filter((pull) => starts.some(({ from }) => Math.abs(pull.from - from) <= 2));
      return {
        ...reading,
        heatingPerPull: heatingPer(series, full),
        heatingPerStart: heatingPer(series, begun),
        ...(steady === undefined ? {} : { steady }),
        ...(isRefusal(pulls) ? {} : { loaded: full.length > 0 }),
      };
    });
    return { readings, ...stored };
  },
  judge: judgeFluid,
});
