/** A store that forgets what was used longest ago once it holds more than `most_bytes`. */
export class Bounded<Key, Value> {
  private readonly kept = new Map<Key, { value: Value; bytes: number }>();
  private held_bytes = 0;

  constructor(
    readonly most_bytes: number,
    private readonly drop: (value: Value) => void = () => undefined,
  ) {}

  get bytes() {
    return this.held_bytes;
  }

  has(key: Key) {
    return this.kept.has(key);
  }

  get(key: Key): Value | undefined {
    const found = this.kept.get(key);
    if (found === undefined) return undefined;
    this.kept.delete(key);
    this.kept.set(key, found);
    return found.value;
  }

  /** Keep a value. `near` keeps those that are about to be shown. */
  put(key: Key, value: Value, bytes: number, isNear: (key: Key) => boolean = () => false) {
    this.remove(key);
    this.kept.set(key, { value, bytes });
    this.held_bytes += bytes;
    for (const old of [...this.kept.keys()]) {
      if (this.held_bytes <= this.most_bytes) break;
      if (old !== key && !isNear(old)) this.remove(old);
    }
    for (const old of [...this.kept.keys()]) {
      if (this.held_bytes <= this.most_bytes) break;
      if (old !== key) this.remove(old);
    }
  }

  clear() {
    for (const key of [...this.kept.keys()]) this.remove(key);
  }

  private remove(key: Key) {
    const found = this.kept.get(key);
    if (found === undefined) return;
    this.kept.delete(key);
    this.held_bytes -= found.bytes;
    this.drop(found.value);
  }
}
