import type { CodeStatus } from '../../recording/raw-read-out.js';
import type { Reading } from '../../recording/read-out.js';
import { counted, figure, listed } from '../wording.js';
import type { WeighedCode } from './stored-weighing.js';

const STATUS: Readonly<Record<CodeStatus, string>> = {
  stored: 'stored',
  pending: 'pending',
  permanent: 'permanent',
  past: 'kept as history',
};

/** Codes told one by one in the summary; the others stand in the details. */
const TOLD = 3;

const UNITS: Readonly<Record<string, string>> = { degC: '°C', '1': '' };

/** `P0301 (stored): misfires on cylinder 1, at 2450 rpm and 92 °C; the recording agrees (engine.misfire)` */
function described(each: WeighedCode): string {
  const { entry, grade, agreement, rules } = each;
  const status = listed(entry.statuses.map((status) => STATUS[status]));
  const frame = frameOf(entry.frame);
  const at = frame === '' ? '' : `, set at ${frame}`;
  const said = {
    confirmed: `; the recording agrees (${rules.join(', ')})`,
    contradicted: `; the recording shows nothing of it (${rules.join(', ')} clear)`,
    elsewhere: `; the recording shows it elsewhere (${rules.join(', ')})`,
    open: '',
  }[agreement];
  return `${entry.code.code} (${status}): ${lowerFirst(grade.meaning)}${at}${said}`;
}

/** The most telling values of a freeze frame: engine speed, load, road speed, temperatures. */
function frameOf(frame: readonly Reading[]): string {
  const order = [
    'engineSpeed',
    'vehicleSpeed',
    'engineLoad',
    'coolantTemperature',
    'transmissionOilTemperature',
    'systemVoltage',
  ];
  const parts = order.flatMap((id) => {
    const found = frame.find(({ channel }) => channel === id);
    return found === undefined
      ? []
      : [
          `${figure(found.value, id === 'systemVoltage' ? 1 : 0)} ${UNITS[found.unit] ?? found.unit}${id === 'engineLoad' ? ' load' : ''}`,
        ];
  });
  return listed(parts.slice(0, 4));
}

export function summaryOf(weighed: readonly WeighedCode[]): string {
  const rest = weighed.length - TOLD;
  const told = weighed.slice(0, TOLD).map(described).join('. ');
  return `${counted(weighed.length, 'code')}. ${told}${rest > 0 ? `. And ${counted(rest, 'more code').replace(/codes?$/, rest === 1 ? 'code' : 'codes')}` : ''}.`;
}

export function causesOf(weighed: readonly WeighedCode[]): string[] {
  const causes: string[] = [];
  if (weighed.some(({ agreement }) => agreement === 'confirmed'))
    causes.push('the fault is there now: code and recording agree');
  if (weighed.some(({ agreement }) => agreement === 'elsewhere'))
    causes.push('a fault that moved or was moved: part swapped between cylinders, or more than one is affected');
  if (weighed.some(({ agreement, entry }) => agreement === 'open' && !entry.statuses.includes('past')))
    causes.push('a fault that shows only in conditions that were not recorded');
  if (weighed.some(({ agreement }) => agreement === 'contradicted'))
    causes.push('an old fault that was mended without clearing the code, or one that comes and goes');
  if (weighed.some(({ byVoltage }) => byVoltage))
    causes.push('weak battery or poor contact: control units dropped out and stored codes about each other');
  if (causes.length === 0) causes.push('a fault of the past that the control unit remembers');
  return causes;
}

export function adviceOf(weighed: readonly WeighedCode[]): string[] {
  const advice = ['Keep the list with its freeze frames; clear nothing before the cause is found.'];
  if (weighed.some(({ byVoltage }) => byVoltage))
    advice.push('Charge and test the battery first, then see which network codes come back.');
  const unknown = weighed.filter(({ grade }) => !grade.known).map(({ entry }) => entry.code.code);
  if (unknown.length > 0) advice.push(`Look up ${listed(unknown.slice(0, 6))} in the service documents of the maker.`);
  const open = [...new Set(weighed.filter(({ agreement }) => agreement === 'open').flatMap(({ rules }) => rules))];
  if (open.length > 0)
    advice.push(
      `Record what would settle it: ${listed(open.slice(0, 4))} ${open.length === 1 ? 'was' : 'were'} not shown.`,
    );
  if (weighed.some(({ entry }) => entry.statuses.includes('pending')))
    advice.push('Read pending codes again after two more drives: they become stored or go.');
  advice.push('Ask the seller for the bills of what was done about each code.');
  return advice;
}

/** Everything about each code, as data. */
export function detailsOf(weighed: readonly WeighedCode[]): Readonly<Record<string, unknown>> {
  return {
    codes: weighed.map(({ entry, grade, severity, agreement, rules }) => ({
      code: entry.code.code,
      ...(entry.code.failureType === undefined ? {} : { failureType: entry.code.failureType }),
      status: entry.statuses,
      ...(entry.module === '' ? {} : { controlUnit: entry.module.slice(0, 60) }),
      area: entry.code.area,
      owner: entry.code.owner,
      meaning: grade.meaning,
      ...(grade.known || entry.text === '' ? {} : { sourceText: entry.text.slice(0, 80) }),
      severity,
      recording: agreement,
      rules,
      frame: Object.fromEntries(entry.frame.map(({ channel, value, unit }) => [channel, { value, unit }])),
    })),
  };
}

function lowerFirst(text: string): string {
  // Abbreviations keep their capitals.
  return /^[A-Z][a-z]/.test(text) ? text.charAt(0).toLowerCase() + text.slice(1) : text;
}
