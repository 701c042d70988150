// Small file systems of a test's own, mounted as a workshop's store. They need root: `why()` says why they cannot be had.
import { execFileSync } from "node:child_process";
import { closeSync, mkdirSync, openSync, readFileSync, readdirSync, rmSync, statfsSync, writeFileSync, writeSync } from "node:fs";
import { basename, join } from "node:path";

const run = (command, ...args) => execFileSync(command, args, { encoding: "utf8", stdio: ["ignore", "pipe", "pipe"] }).trim();

/** False where a file system can be mounted, else the reason for skipping. */
export function cannotMount() {
  if (process.getuid() !== 0) return "needs root: it mounts a small file system";
  try {
    run("unshare", "--mount", "mount", "-t", "tmpfs", "none", "/mnt");
    return false;
  } catch (error) {
    return `no file system can be mounted here: ${error.message.split("\n").at(-1)}`;
  }
}

export class Disk {
  /** In memory, `megabytes` large, mounted where the store will be. */
  static inMemory(shop, megabytes, how = "rw") {
    mkdirSync(shop.keep, { recursive: true });
    run("mount", "-t", "tmpfs", "-o", `${how},size=${megabytes}m`, "midstick-test", shop.keep);
    return new Disk(shop);
  }
  /** A real one in a file, which can be made to fail as hardware does: ext4 goes read-only at its first error. */
  static inFile(shop, megabytes) {
    const image = shop.write("disk.img", "");
    run("truncate", "-s", `${megabytes}M`, image);
    run("mkfs.ext4", "-q", "-F", "-O", "^has_journal", "-m", "0", image);
    mkdirSync(shop.keep, { recursive: true });
    const disk = new Disk(shop, image);
    disk.mountImage();
    return disk;
  }

  constructor(shop, image) {
    Object.assign(this, { shop, image });
    shop.atClose.push(() => this.unmount());
  }
  mountImage() { run("mount", "-o", "loop,errors=remount-ro", this.image, this.shop.keep); }
  unmount() { run("umount", "--lazy", this.shop.keep); }
  remount(how) { run("mount", "-o", `remount,${how}`, this.shop.keep); }
  /** As after a restart of the machine: unmounted, checked, mounted again. The daemon must be gone. */
  repair() {
    run("umount", this.shop.keep);
    try { run("e2fsck", "-fy", this.image); } catch (error) { if (error.status > 1) throw error; }  // 1: errors were put right
    this.mountImage();
  }
  fail() {
    const device = basename(run("findmnt", "-no", "SOURCE", this.shop.keep));
    writeFileSync(`/sys/fs/ext4/${device}/trigger_fs_error`, "a test of midstickd");
  }

  freeBytes() { const s = statfsSync(this.shop.keep); return s.bavail * s.bsize; }
  /** Fills it until `bytes` are free. */
  fill(bytes) {
    const file = openSync(join(this.shop.keep, "somebody-elses-files"), "a"), block = Buffer.alloc(1 << 16);
    try {
      while (this.freeBytes() > bytes) writeSync(file, block, 0, Math.min(block.length, Math.max(1, this.freeBytes() - bytes)));
    } catch (error) {
      if (error.code !== "ENOSPC") throw error;
    } finally {
      closeSync(file);
    }
  }
  clear() { rmSync(join(this.shop.keep, "somebody-elses-files")); }
}
