/** NaN reads `unknown`. A number for a sentence: at most `digits` decimals, no trailing zeros, no minus zero. */
export function figure(value: number, digits = 1): string {
  if (Number.isNaN(value)) return 'unknown';
  const scale = 10 ** digits;
  return String(Math.round(value * scale) / scale + 0);
}

/** Like {@link figure} with a plus sign where there is no minus: `+3.5`, `-12`, `0`. */
export function signed(value: number, digits = 1): string {
  const text = figure(value, digits);
  return value > 0 && text !== '0' ? `+${text}` : text;
}

/** Beside a value that clears: said when it lies beyond its limit, though not surely. Empty when it does not, or is NaN. */
export function nearWhenBeyond(value: number, limit: number): string {
  return value > limit ? ', near the limit: beyond it, but not surely' : '';
}

/** Seconds of recording time as `m:ss`, for a reader who looks it up in the log. */
export function clockTime(seconds: number): string {
  const whole = Math.round(seconds);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, '0')}`;
}

/** `1 event`, `2 events`. */
export function counted(count: number, noun: string): string {
  return `${count} ${noun}${count === 1 ? '' : 's'}`;
}

/** `a`, `a and b`, `a, b and c`. */
export function listed(items: readonly string[]): string {
  if (items.length < 2) return items.join('');
  return `${items.slice(0, -1).join(', ')} and ${items[items.length - 1]}`;
}
