const STAMP =
  /(?<!\d)((?:19|20)\d{2})([-_. ]?)(0[1-9]|1[0-2])\2(0[1-9]|[12]\d|3[01])(?:[T_ -]+([01]\d|2[0-3])([-_.:h]?)([0-5]\d)(?:\6([0-5]\d))?)?(?!\d)/g;

/**
 * Date, and time where there is one, that a file's name tells: `2024-03-05 run.csv`, `log_20240305-102030.csv`. Year first
 * only, as anything else can be read two ways; undefined without one, with more than one, or for a day that does not exist.
 * @returns ISO 8601
 */
export function nameDate(name: string): string | undefined {
  const found = [...name.matchAll(STAMP)];
  const [only] = found;
  if (found.length !== 1 || only === undefined) return undefined;
  const [, year, , month, day, hour, , minute, second = '00'] = only;
  const date = `${year}-${month}-${day}`;
  if (new Date(`${date}T00:00:00Z`).getUTCDate() !== Number(day)) return undefined;
  return hour === undefined ? date : `${date}T${hour}:${minute}:${second}`;
}
