/** A photo small enough to be kept (at most 400 kB), without the place where it was taken. */

export const LARGEST = 400_000;
const LONGEST_SIDE = 1600;

export async function shrink(file: File): Promise<File> {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  try {
    let side = LONGEST_SIDE;
    for (let quality = 0.82; ; quality -= 0.12) {
      const scale = Math.min(1, side / Math.max(picture.width, picture.height));
      const canvas = document.createElement("canvas");
      canvas.width = Math.max(1, Math.round(picture.width * scale));
      canvas.height = Math.max(1, Math.round(picture.height * scale));
      canvas.getContext("2d")!.drawImage(picture, 0, 0, canvas.width, canvas.height);
      const blob = await new Promise<Blob | null>((resolve) => canvas.toBlob(resolve, "image/jpeg", quality));
      if (!blob) throw new Error("no picture");
      if (blob.size <= LARGEST || side < 500) return new File([blob], "photo.jpg", { type: "image/jpeg" });
      if (quality < 0.5) {
        quality = 0.94;
        side *= 0.7;
      }
    }
  } finally {
    picture.close();
  }
}
