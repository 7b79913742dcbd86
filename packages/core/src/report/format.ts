import type { Limit, Measure } from '../rules/rule.js';

const SIGNS: Readonly<Record<string, string>> = {
  degC: '°C',
  degF: '°F',
  deg: '°',
  'N.m': 'N·m',
  'm/s2': 'm/s²',
  '1': '',
  degCA: '°CA',
};

/** Unit as people write it. */
export function unitSign(unit: string | undefined): string {
  if (unit === undefined) return '';
  return SIGNS[unit] ?? unit;
}

/** At most `digits` significant digits, no exponent below a million, no trailing zeros. */
export function number(value: number, digits = 4): string {
  if (!Number.isFinite(value)) return 'not known';
  if (Number.isInteger(value)) return grouped(String(value));
  const decimals = Math.max(0, Math.min(6, digits - 1 - Math.floor(Math.log10(Math.abs(value)))));
  const text = value.toFixed(decimals);
  return grouped(text.includes('.') ? text.replace(/\.?0+$/, '') : text);
}

function grouped(text: string): string {
  const [whole = '', fraction] = text.split('.');
  const spaced = whole.replace(/\B(?=(\d{3})+(?!\d))/g, '\u202f');
  const kept = whole.replace('-', '').length > 4 ? spaced : whole;
  return fraction === undefined ? kept : `${kept}.${fraction}`;
}

/** `131.2 °C`; a list of numbers is joined with commas. */
export function quantity(value: number | readonly number[], unit?: string, digits?: number): string {
  const text =
    typeof value === 'number'
      ? number(value, digits)
      : value.length === 0
        ? 'none'
        : value.map((each) => number(each, digits)).join(', ');
  const sign = unitSign(unit);
  if (sign === '') return text;
  return sign === '°' || sign === '°CA' ? `${text}${sign}` : `${text} ${sign}`;
}

/** What was measured: below a tenth two digits are enough, `0.036 km/h`. */
export function measure({ value, unit }: Measure): string {
  return quantity(value, unit, typeof value === 'number' && Math.abs(value) < 0.1 ? 2 : 4);
}

/** Seconds of recording time as `m:ss` or `h:mm:ss`; tenths below ten minutes when they matter. */
export function clock(seconds: number, tenths = false): string {
  const step = tenths ? 10 : 1;
  const total = Math.floor(seconds * step + 1e-9);
  const whole = Math.floor(total / step);
  const h = Math.floor(whole / 3600);
  const m = Math.floor((whole % 3600) / 60);
  const s = String(whole % 60).padStart(2, '0');
  const rest = tenths ? `.${total % 10}` : '';
  return h > 0 ? `${h}:${String(m).padStart(2, '0')}:${s}${rest}` : `${m}:${s}${rest}`;
}

/** `812.3 s` as `13:32.3`, an interval as `13:32–14:05`; short ones with tenths. */
export function span(from: number, to: number): string {
  const short = to - from < 10;
  return `${clock(from, short)}–${clock(to, short)}`;
}

export function percent(share: number): string {
  return `${Math.round(share * 100)} %`;
}

/** `watch > 115 °C, repair > 125 °C (common practice, no source)`: limits of one source stand together. */
export function limits(all: readonly Limit[]): string {
  const groups = new Map<string, string[]>();
  for (const { name, comparison, value, unit, source } of all) {
    const group = groups.get(source) ?? [];
    group.push(`${name} ${comparison} ${quantity(value, unit)}`);
    groups.set(source, group);
  }
  return [...groups]
    .map(([source, each]) => `${each.join(', ')} (${source === 'profile' ? 'your profile' : source})`)
    .join('; ');
}
