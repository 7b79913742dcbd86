/** A channel id or measure name in words: `knockRetard.cylinder3` reads `knock retard, cylinder 3`. */
export function spoken(id: string): string {
  return id
    .split('.')
    .map((part) =>
      // A range of the selector stays a capital: `delay.D`.
      /^[A-Z]$/.test(part)
        ? part
        : part
            .replace(/([a-z])([A-Z])/g, '$1 $2')
            .replace(/([a-z])(\d)/g, '$1 $2')
            .toLowerCase(),
    )
    .join(', ');
}
