import type { Channel, Quality, Recording } from '../recording/recording.js';

/** Rows of a recording from which thinning pays; shorter ones are seen as they are. */
const LONG = 100_000;
/** Seconds of one row of the thinned recording, and how many rows it must replace. */
const TENTH = 0.1;
const WORTH = 2;

/**
 * Blocks of equally many rows, about a tenth of a second; of each channel the last sample in a block, NaN where it has
 * none, so that channels logged now and then lose none of their own samples. The same object when it is short or slow.
 * @param long rows from which it is done
 */
export function inTenths(recording: Recording, long: number = LONG): Recording {
  const { time, rows } = recording;
  const size = rows < long ? 0 : Math.floor(TENTH / spacingOf(time) + 1e-6);
  if (size < WORTH) return recording;
  const count = Math.ceil(rows / size);
  const times = new Float64Array(count);
  for (let b = 0; b < count; b++) times[b] = time[Math.min(rows, (b + 1) * size) - 1]!;
  const channels = new Map<string, Channel>();
  for (const [id, channel] of recording.channels) channels.set(id, new Thinned(channel, size));
  return { ...recording, time: times, rows: count, channels };
}

/** A channel of which every block is one row. Thinned when its values are first asked for: few channels are. */
class Thinned implements Channel {
  readonly id: string;
  readonly unit: string;
  readonly source: string;
  readonly sourceUnit: string;
  readonly certainty: Channel['certainty'];
  readonly place?: NonNullable<Channel['place']>;
  private own: Float64Array | undefined;
  private worth: Quality | undefined;

  constructor(
    private readonly whole: Channel,
    private readonly size: number,
  ) {
    const { id, unit, source, sourceUnit, certainty, place } = whole;
    this.id = id;
    this.unit = unit;
    this.source = source;
    this.sourceUnit = sourceUnit;
    this.certainty = certainty;
    if (place !== undefined) this.place = place;
  }

  get values(): Float64Array {
    this.own ??= lastOfBlocks(this.whole.values, this.size);
    return this.own;
  }

  /** No more than ten fresh values a second are left, and as many samples as there are. */
  get quality(): Quality {
    if (this.worth === undefined) {
      const { quality } = this.whole;
      const rows = this.whole.values.length;
      // Of a full channel every block has one.
      const samples = quality.samples === rows ? Math.ceil(rows / this.size) : filledOf(this.values);
      const most = 1 / TENTH;
      // `min` keeps NaN: what does not tell its rate tells none now.
      const rates = { rate: Math.min(quality.rate, most), groupRate: Math.min(quality.groupRate, most) };
      this.worth = { ...quality, ...rates, samples };
    }
    return this.worth;
  }
}

/** NaN is no sample: skipped, and the answer of a block without any. Last sample of each block; the last may be shorter. */
function lastOfBlocks(values: Float64Array, size: number): Float64Array {
  const n = values.length;
  const found = new Float64Array(Math.ceil(n / size));
  for (let b = 0; b < found.length; b++) {
    const from = b * size;
    let i = Math.min(n, from + size) - 1;
    let x = values[i]!;
    while (Number.isNaN(x) && i > from) x = values[--i]!;
    found[b] = x;
  }
  return found;
}

function filledOf(values: Float64Array): number {
  let filled = 0;
  for (let b = 0; b < values.length; b++) if (!Number.isNaN(values[b]!)) filled++;
  return filled;
}

/** Seconds between rows: middle of evenly spread steps. */
function spacingOf(time: Float64Array): number {
  const every = Math.max(1, Math.floor((time.length - 1) / 1001));
  const steps: number[] = [];
  for (let i = 1; i < time.length; i += every) steps.push(time[i]! - time[i - 1]!);
  return steps.sort((a, b) => a - b)[steps.length >> 1]!;
}
