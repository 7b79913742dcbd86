/** Text that names a car, a person, a place or a machine, and what stands in its place. */
interface Pattern {
  readonly find: RegExp;
  readonly instead: string;
}

/**
 * Recognised wherever they stand. Every expression is free of nested repetition, so that its time grows with the text
 * alone. Vehicle identification number: 17 characters without I, O, Q, at least one letter and four digits (ISO 3779).
 */
const PATTERNS: readonly Pattern[] = [
  {
    find: /(?<![A-Za-z0-9])(?=[A-HJ-NPR-Z0-9]{0,16}[A-HJ-NPR-Z])(?=(?:[A-HJ-NPR-Z]{0,13}\d){4})[A-HJ-NPR-Z0-9]{17}(?![A-Za-z0-9])/gi,
    instead: '(identification number)',
  },
  { find: /[A-Za-z0-9._%+-]{1,64}@[A-Za-z0-9.-]{1,128}\.[A-Za-z]{2,12}/g, instead: '(e-mail)' },
  { find: /(?<![\w/])(?:[A-Za-z]:[\\/]|\\\\|~\/)[^\s"'<>|]{1,400}/g, instead: '(path)' },
  { find: /(?<![\w/.)])\/[\w.~-]{1,128}(?:\/[\w.~ -]{1,128}){1,40}/g, instead: '(path)' },
  { find: /-?[1-9]\d{0,2}\.\d{4,12}\s{0,3}[,;/ ]\s{0,3}-?[1-9]\d{0,2}\.\d{4,12}/g, instead: '(position)' },
  {
    find: /[NS]\s?\d{1,2}[°.]\s?\d[\d.'′" ]{2,20}[,;/ ]{0,3}[EW]\s?\d{1,3}[°.]\s?\d[\d.'′"]{2,20}/g,
    instead: '(position)',
  },
  {
    find: /\d{1,2}°\s?\d{1,2}[.\d'′ "″]{1,14}[NS][,;/ ]{0,3}\d{1,3}°\s?\d{1,2}[.\d'′ "″]{1,14}[EW]/g,
    instead: '(position)',
  },
  { find: /(?<![\w.])\+\d{1,3}[ /-]?(?:\(0\)[ /-]?)?\d{2,5}[ /-]?\d[\d /-]{4,14}\d/g, instead: '(telephone)' },
];

/** A name after the word that announces one; groups: word, sign, name. `owner (Ada …)` stands where claims are told. */
const NAMED =
  /\b(driver|owner|seller|customer|operator|user ?name|passenger|name)(\s?[:=]\s?|\s\((?=[A-Z]))([^,;|()[\]\n]{1,80})/gi;

/** Names that a text announces (`Driver: …`), as written. */
export function announcedNames(text: string): string[] {
  return [...text.matchAll(NAMED)].map((match) => match[3]!.trim()).filter((name) => name.length >= 4);
}

/** @returns the text without what the patterns find */
export function withoutPrivate(text: string): string {
  let clean = text.replace(NAMED, '$1$2(name)');
  for (const { find, instead } of PATTERNS) clean = clean.replace(find, instead);
  return clean;
}
