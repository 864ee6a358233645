package web

import (
	"errors"
	"io"
	"net/http"
	"net/url"
	"strings"

	pb "platarium/proto/platarium/v1"
)

// asking is what the page about availability shows.
type asking struct {
	*form
	Parties []option
	Staff   bool
	Answers []answered
	Title   string // of the picture asked about, if it is one
}

// answered is what was found out about one or more pictures.
type answered struct {
	Work, To, Answer, Title string
	Said                    string // in a sentence
	Explanations, Free      []string
	Grants                  []string
	Problem                 string
}

// answerWords are the answers in words.
var answerWords = map[string]string{
	"yes": "Yes, it is free.", "no": "No, it isn't free.", "part": "In part: what is said below is free, the rest isn't.", "check": "To be checked: something has to be asked first.",
}

// available answers whether a wanted use is free: of a few pictures together, or of many, each on its own. Nothing is stored, so that an answer has an address.
func (s *Site) available(v *visit) error {
	f := v.blank(v.r.URL.Query())
	asked := f.Value("media") != "" || f.Value("territories") != ""
	if f.Value("languages") == "" {
		f.typed.Set("languages", "*")
	}
	page := asking{form: f, Staff: v.staff()}
	var err error
	if page.Parties, err = s.partyOptions(v); err != nil {
		return err
	}
	if asked {
		if err := s.answer(v, &page); err != nil {
			return err
		}
	}
	code := http.StatusOK
	if f.Faults() {
		code = http.StatusBadRequest
	}
	return v.show(code, "available.html", "Is a use free?", page)
}

// askFields finds the form's fields of a question's.
var askFields = map[string]string{
	"scope.works": "works", "works": "works", "scope.media": "media", "scope.territories": "territories", "scope.languages": "languages", "scope.purposes": "purpose", "scope.from": "from", "scope.to": "to", "scope": "works",
	"requester": "requester", "exclusivity": "exclusivity",
}

func (s *Site) answer(v *visit, page *asking) error {
	f := page.form
	works, scope := f.works("works"), f.scope()
	exclusivity, requester := valueOf[pb.Exclusivity](f.Value("exclusivity")), f.Value("requester")
	if len(works) == 0 {
		f.blame("works", "is empty; want the pictures that are to be used")
		return nil
	}
	if len(works) > 1 && f.Value("each") != "" {
		stream, err := s.services.licensing.CheckAvailabilities(v.ctx(), &pb.CheckAvailabilitiesRequest{Requester: requester, Works: works, Scope: scope, Exclusivity: exclusivity})
		for err == nil {
			var res *pb.CheckAvailabilitiesResponse
			if res, err = stream.Recv(); err == nil {
				one := newAnswered(res.GetWork(), res.GetAvailability())
				one.Problem = res.GetProblem().GetMessage()
				page.Answers = append(page.Answers, one)
			}
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		page.Answers = nil // half a list would look like a whole one
		return f.refused(err, askFields)
	}
	scope.Works = works
	res, err := s.services.licensing.CheckAvailability(v.ctx(), &pb.CheckAvailabilityRequest{Requester: requester, Scope: scope, Exclusivity: exclusivity})
	if err != nil {
		return f.refused(err, askFields)
	}
	one := newAnswered(strings.Join(works, ", "), res)
	if len(works) == 1 {
		name, _, _ := strings.Cut(works[0], "#")
		p, err := s.services.archive.GetPicture(v.ctx(), &pb.GetPictureRequest{Name: name})
		if err := missing(err); err != nil {
			return err
		}
		one.Title = p.GetTitle()
	}
	page.Answers = []answered{one}
	return nil
}

func newAnswered(work string, a *pb.CheckAvailabilityResponse) answered {
	out := answered{Work: work, Answer: a.GetAnswer(), Said: answerWords[a.GetAnswer()], Explanations: a.GetExplanations(), Free: a.GetFree(), Grants: a.GetGrants()}
	if name, _, _ := strings.Cut(work, "#"); strings.HasPrefix(name, "pictures/") && !strings.Contains(work, ",") {
		out.To = "/" + name
	}
	return out
}

// AsGrant is the address of a new grant over what was asked.
func (a asking) AsGrant() string {
	return "/grants/new?" + url.Values{"picture": {a.Value("works")}}.Encode()
}
