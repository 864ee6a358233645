package checklist

import (
	"strings"

	"golang.org/x/text/language"
)

// languageTag turns the name or code of a language into a BCP 47 tag. Checklists
// write English, eng, en or en-US. Unknown ones give "" and false.
func languageTag(s string) (string, bool) {
	s = strings.TrimSpace(s)
	if s == "" {
		return "", true
	}
	if code, ok := languageNames[strings.ToLower(s)]; ok {
		return code, true
	}
	tag, err := language.Parse(s)
	if err != nil || tag == language.Und {
		return "", false
	}
	return tag.String(), true
}

// languageNames are English names of languages in which fishes are named often.
var languageNames = map[string]string{
	"afrikaans": "af", "arabic": "ar", "bulgarian": "bg", "catalan": "ca", "chinese": "zh", "croatian": "hr", "czech": "cs",
	"danish": "da", "dutch": "nl", "english": "en", "estonian": "et", "faroese": "fo", "finnish": "fi", "french": "fr",
	"german": "de", "greek": "el", "hawaiian": "haw", "hebrew": "he", "hindi": "hi", "hungarian": "hu", "icelandic": "is",
	"indonesian": "id", "irish": "ga", "italian": "it", "japanese": "ja", "korean": "ko", "latvian": "lv", "lithuanian": "lt",
	"malay": "ms", "maltese": "mt", "maori": "mi", "mandarin chinese": "zh", "norwegian": "no", "persian": "fa", "polish": "pl",
	"portuguese": "pt", "romanian": "ro", "russian": "ru", "serbian": "sr", "slovak": "sk", "slovenian": "sl", "spanish": "es",
	"swahili": "sw", "swedish": "sv", "tagalog": "tl", "tamil": "ta", "thai": "th", "turkish": "tr", "ukrainian": "uk",
	"vietnamese": "vi", "welsh": "cy",
}
